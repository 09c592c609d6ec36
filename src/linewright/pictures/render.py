"""The track chart written out: SVG and PNG without a browser, and one HTML page that needs nothing from outside."""

from __future__ import annotations

import html
import json
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from linewright.pictures.chart import track_chart

if TYPE_CHECKING:
    from linewright.evaluation import Evaluation

# The page holds everything: its style, the specification and the library that draws it.
PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width">
<title>{title}</title>
<link rel="icon" href="data:,">
<style>body {{ margin: 1rem; background: #fff; }} #chart {{ overflow-x: auto; }}</style>
</head>
<body>
<div id="chart"></div>
<noscript>This page draws itself with JavaScript, which is switched off. The SVG file shows the same.</noscript>
<script type="module">
{library}
</script>
<script type="module">
const chart = {spec};
await window.vegaEmbed("#chart", chart, {{ actions: false, renderer: "svg", mode: "vega-lite" }});
document.body.dataset.drawn = "yes";
</script>
</body>
</html>
"""


def track_chart_svg(evaluation: Evaluation) -> str:
    """The track chart as SVG text."""
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(_spec(evaluation), vl_version=_version())
    return svg


def track_chart_png(evaluation: Evaluation, scale: float = 1.0) -> bytes:
    """The track chart as PNG.

    Parameters
    ----------
    scale : dots for each pixel of the chart, > 0
    """
    import vl_convert

    png: bytes = vl_convert.vegalite_to_png(_spec(evaluation), vl_version=_version(), scale=scale)
    return png


def track_chart_html(evaluation: Evaluation) -> str:
    """The track chart as one HTML page; it asks nothing of any server. Points of the picture tell what they are."""
    # In a script element only these three could end it or open a comment.
    spec = json.dumps(_spec(evaluation)).replace("<", "\\u003c").replace(">", "\\u003e").replace("&", "\\u0026")
    title = html.escape(f"{evaluation.line.name}: track chart")
    return PAGE.format(title=title, library=_library(), spec=spec)


def _spec(evaluation: Evaluation) -> dict[str, Any]:
    import altair

    chart = track_chart(evaluation)
    # Rows are plain values already: a walk through every one of them would take longer than all the rest.
    rows, chart.datasets = chart.datasets, altair.Undefined
    spec: dict[str, Any] = chart.to_dict(validate=False)
    return {**spec, "datasets": rows}


def _version() -> str:
    """The version of the drawing grammar that the specification is written in."""
    import altair

    return ".".join(altair.SCHEMA_VERSION.split(".")[:2])


@cache
def _library() -> str:
    """The drawing library as one module script; it sets window.vegaEmbed."""
    import vl_convert

    library: str = vl_convert.javascript_bundle("window.vegaEmbed = vegaEmbed;", _version())
    return library.replace("</script", "<\\/script")
