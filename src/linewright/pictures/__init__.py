"""An evaluation drawn: the track chart, as a specification, SVG, PNG or one offline HTML page."""

from linewright.pictures.chart import track_chart
from linewright.pictures.render import track_chart_html, track_chart_png, track_chart_svg

__all__ = ["track_chart", "track_chart_html", "track_chart_png", "track_chart_svg"]
