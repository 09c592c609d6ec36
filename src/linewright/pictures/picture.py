"""A picture: one specification, written out as SVG, PNG or one offline HTML page, and shown by a notebook."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.grammar import GRAMMAR, SCHEMA, Datasets, Spec, stacked
from linewright.pictures.key import KeyEntry, key_chart
from linewright.pictures.labels import wrapped
from linewright.pictures.style import BAND, FONT, GREY, INK, PAPER, Text, hatch_defs

if TYPE_CHECKING:
    import altair as alt

PADDING_PX: Final = 14
DOT: Final = 1.05


@dataclass(frozen=True, eq=False)
class Picture:
    """One picture.

    Parameters
    ----------
    name : what its files are called
    title : what it shows, for a window's title
    spec : the specification in the Vega-Lite grammar, rows of data included
    rows : names of the rows that a reader may switch off in the page; empty where there are none
    zooms : the page may stretch it along the track
    """

    name: str
    title: str
    spec: Spec
    rows: tuple[str, ...] = ()
    zooms: bool = False

    def svg(self) -> str:
        """The picture as SVG text; the same input gives the same text."""
        return self._written

    @cached_property
    def _written(self) -> str:
        import vl_convert

        text = _unclipped(vl_convert.vegalite_to_svg(self.spec, vl_version=GRAMMAR))
        start = text.index(">") + 1
        return text[:start] + hatch_defs(text) + text[start:]

    def png(self, scale: float = 2.0) -> bytes:
        """The picture as PNG.

        Parameters
        ----------
        scale : dots for each pixel of the picture, > 0; two are sharp on paper too

        Raises
        ------
        ValueError   The scale is not positive.
        """
        import vl_convert

        if not scale > 0.0:
            raise ValueError(f"scale is {scale}; it must be positive")
        png: bytes = vl_convert.svg_to_png(_thick_enough(self.svg(), scale), scale=scale)
        return png

    def html(self) -> str:
        """The picture as one HTML page that asks nothing of any server; its marks tell what they are."""
        from linewright.pictures.page import page_of

        return page_of(self)

    def chart(self) -> alt.TopLevelMixin:
        """The same as an Altair object, to be changed further; hatched fills stay empty there.

        Raises
        ------
        altair.SchemaValidationError   The specification is not in the grammar.
        """
        import altair

        read: Any = altair.Chart.from_dict(self.spec)
        return read  # type: ignore[no-any-return]

    def _repr_svg_(self) -> str:
        """What a notebook shows."""
        return self.svg()


def picture_of(
    name: str,
    title: str,
    said: Sequence[str],
    parts: Sequence[Spec],
    key: Sequence[KeyEntry],
    data: Datasets,
    text: Text,
    width_px: float,
    rows: Sequence[str] = (),
    zooms: Mapping[str, float] | None = None,
) -> Picture:
    """Put title, parts and key under one another.

    Parameters
    ----------
    name, title : of the picture; the title stands over it in large letters
    said : what a reader must know; each begins a line, and long ones are broken into several
    parts : views, from top to bottom
    key : what the marks mean
    data : the rows of all parts
    text : sizes of letters
    width_px : of the parts; title and key are laid out in it. [px]
    rows : names of the parts that a reader may switch off
    zooms : parameters by which the page stretches it, and their values for the whole; None where it cannot
    """
    heading = {
        "text": wrapped(title, width_px, 1.1 * text.title_px),
        "subtitle": [line for words in said for line in wrapped(words, width_px, text.px)],
        "anchor": "start",
        "fontSize": text.title_px,
        "subtitleFontSize": text.px,
        "subtitleLineHeight": text.line_px,
        "color": INK,
        "subtitleColor": INK,
        "offset": 10,
    }
    axes = {
        "labelColor": INK,
        "titleColor": INK,
        "titleFontWeight": "normal",
        "labelFontSize": text.small_px,
        "titleFontSize": text.px,
        "domainColor": GREY,
        "tickColor": GREY,
        "gridColor": BAND,
    }
    keyed = [key_chart(key, data, text, width_px)] if key else []
    spec: Spec = {
        "$schema": SCHEMA,
        "title": heading,
        "padding": PADDING_PX,
        "background": PAPER,
        "config": {"font": FONT, "view": {"stroke": None}, "axis": axes},
        **stacked([*parts, *keyed], 14),
        "datasets": data.rows,
    }
    if zooms is not None:
        spec["params"] = [{"name": one, "value": value} for one, value in zooms.items()]
    return Picture(name, title, spec, tuple(rows), zooms is not None)


def _unclipped(svg: str) -> str:
    """Without what cuts marks off at the edge of a plot: that is for the zoom, and slows whoever paints the drawing."""
    return re.sub(r"<clipPath .*?</clipPath>", "", re.sub(r' clip-path="[^"]*"', "", svg), flags=re.DOTALL)


def _thick_enough(svg: str, scale: float) -> str:
    """The same with every stroke thinner than a dot drawn a dot wide and the paler for it.

    It looks the same, and the converter takes twenty times as long over thousands of strokes thinner than a dot.
    """
    least = DOT / scale

    def widened(found: re.Match[str]) -> str:
        wide = float(found[1])
        return found[0] if wide >= least else f'stroke-width="{least:.4g}" stroke-opacity="{wide / least:.3g}"'

    return re.sub(r'stroke-width="([0-9.]+)"', widened, svg)
