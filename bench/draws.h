/* Luck in C: durations and flags as functions of what they are drawn for, after linewright/flow/kernel/draws.py. */

#include <math.h>
#include <stdint.h>

typedef int64_t i64;
#define INLINE static inline __attribute__((always_inline))
#define NO_FAILURE (1LL << 61)

enum { FIXED, TRIANGULAR, LOGNORMAL, EXPONENTIAL, GIVEN, GAMMA, EMPIRICAL, GEOMETRIC };

/* The knots of the table of a gamma law: linewright/flow/kernel/draws.py, gamma_table. */
#define GAMMA_KNOTS_PER_ONE 32
#define GAMMA_REACH 8.25

typedef struct { i64 *kind; double *p; i64 *first, *length, *given; double *table; uint64_t *key; } Laws;

INLINE double uniform(uint64_t key, i64 number) {
    uint64_t z = key + (uint64_t)(number + 1) * 0x9E3779B97F4A7C15ULL;
    z = (z ^ (z >> 30)) * 0xBF58476D1CE4E5B9ULL;
    z = (z ^ (z >> 27)) * 0x94D049BB133111EBULL;
    z ^= z >> 31;
    return ((double)(i64)(z >> 12) + 0.5) * 2.220446049250313e-16;
}

INLINE double ratio(const double *top, const double *low, double r) {
    double a = top[0], b = low[0];
    for (int i = 1; i < 8; i++) { a = a * r + top[i]; b = b * r + low[i]; }
    return a / b;
}

/* Wichura, algorithm AS 241 (PPND16), Applied Statistics 37 (1988) 477. */
static double normal_quantile(double p) {
    static const double top0[] = {2509.0809287301226727, 33430.575583588128105, 67265.770927008700853, 45921.953931549871457,
                                  13731.693765509461125, 1971.5909503065514427, 133.14166789178437745, 3.387132872796366608};
    static const double low0[] = {5226.495278852545925, 28729.085735721942674, 39307.89580009271061, 21213.794301586595867,
                                  5394.1960214247511077, 687.1870074920579083, 42.313330701600911252, 1.0};
    static const double top1[] = {7.7454501427834140764e-4, 0.0227238449892691845833, 0.24178072517745061177, 1.27045825245236838258,
                                  3.64784832476320460504, 5.7694972214606914055, 4.6303378461565452959, 1.42343711074968357734};
    static const double low1[] = {1.05075007164441684324e-9, 5.475938084995344946e-4, 0.0151986665636164571966, 0.14810397642748007459,
                                  0.68976733498510000455, 1.6763848301838038494, 2.05319162663775882187, 1.0};
    static const double top2[] = {2.01033439929228813265e-7, 2.71155556874348757815e-5, 0.0012426609473880784386, 0.026532189526576123093,
                                  0.29656057182850489123, 1.7848265399172913358, 5.4637849111641143699, 6.6579046435011037772};
    static const double low2[] = {2.04426310338993978564e-15, 1.4215117583164458887e-7, 1.8463183175100546818e-5, 7.868691311456132591e-4,
                                  0.0148753612908506148525, 0.13692988092273580531, 0.59983220655588793769, 1.0};
    double q = p - 0.5;
    if (fabs(q) <= 0.425) return q * ratio(top0, low0, 0.180625 - q * q);
    double r = sqrt(-log(q < 0 ? p : 1.0 - p));
    double x = r <= 5.0 ? ratio(top1, low1, r - 1.6) : ratio(top2, low2, r - 5.0);
    return q < 0 ? -x : x;
}

static i64 duration(i64 kind, double a, double b, double c, double u) {
    if (kind == EXPONENTIAL) return (i64)ceil(-log(u) * a);
    if (kind == LOGNORMAL) return (i64)ceil(exp(a + b * normal_quantile(u)));
    double share = (b - a) / (c - a);
    return (i64)ceil(u < share ? a + sqrt(u * (c - a) * (b - a)) : c - sqrt((1.0 - u) * (c - a) * (c - b)));
}

static double gamma_log_quantile(const double *table, double u) {
    double place = (normal_quantile(u) + GAMMA_REACH) * GAMMA_KNOTS_PER_ONE;
    i64 knot = (i64)floor(place);
    const double *at = table + 2 * knot;
    double s = place - (double)knot, y = at[0], slope = at[1], next_slope = at[3], rise = at[2] - y;
    return y + s * (slope + s * ((3.0 * rise - 2.0 * slope - next_slope) + s * (slope + next_slope - 2.0 * rise)));
}

static i64 looked_up(const Laws *w, i64 i, double u) {
    const double *p = w->p + 3 * i;
    i64 least = 1, drawn;
    if (w->kind[i] == EMPIRICAL) return w->given[w->first[i] + (i64)floor(u * (double)w->length[i])];
    if (w->kind[i] == GAMMA) drawn = (i64)ceil(p[1] * exp(gamma_log_quantile(w->table + w->first[i], u)));
    else drawn = p[0] <= 1.0 ? 1 : (i64)ceil(log(u) / log1p(-1.0 / p[0]));
    return drawn > least ? drawn : least;
}

INLINE i64 draw(const Laws *w, i64 i, i64 number) {
    if (w->kind[i] == FIXED) return (i64)w->p[3 * i];
    if (w->kind[i] == GIVEN) return w->given[w->first[i] + number % w->length[i]];
    double u = uniform(w->key[i], number);
    if (w->kind[i] > GIVEN) return looked_up(w, i, u);
    return duration(w->kind[i], w->p[3 * i], w->p[3 * i + 1], w->p[3 * i + 2], u);
}

INLINE i64 draw_once(const Laws *w, i64 i, i64 number) {
    return w->kind[i] == GIVEN && number >= w->length[i] ? NO_FAILURE : draw(w, i, number);
}

INLINE int is_flagged(const Laws *w, i64 i, i64 serial) {
    if (w->kind[i] == GIVEN) return serial < w->length[i] && w->given[w->first[i] + serial] == 1;
    double share = w->p[3 * i];
    return share > 0.0 && uniform(w->key[i], serial) < share;
}
