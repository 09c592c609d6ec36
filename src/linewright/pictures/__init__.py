"""An evaluation drawn: each function gives one picture, which writes itself as SVG, PNG or one offline HTML page."""

from linewright.pictures.charts.accuracy import accuracy_shares
from linewright.pictures.charts.carriers import rate_against_carriers
from linewright.pictures.charts.causes import cycle_causes
from linewright.pictures.charts.current import current_trace
from linewright.pictures.charts.move import move_limits
from linewright.pictures.floor import floor_plan
from linewright.pictures.gallery import PICTURES, Material, draw
from linewright.pictures.jam import jam_steps
from linewright.pictures.nothing import NothingToDraw
from linewright.pictures.picture import Picture
from linewright.pictures.style import Text
from linewright.pictures.track.chart import ROWS, Shown, track_chart

__all__ = [
    "PICTURES",
    "ROWS",
    "Material",
    "NothingToDraw",
    "Picture",
    "Shown",
    "Text",
    "accuracy_shares",
    "current_trace",
    "cycle_causes",
    "draw",
    "floor_plan",
    "jam_steps",
    "move_limits",
    "rate_against_carriers",
    "track_chart",
]
