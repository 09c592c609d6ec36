"""How Sphinx builds the documentation. Nothing is fetched from outside: no inventories, web fonts, formula scripts."""

from linewright.version import __version__

project = "Linewright"
author = "The Linewright authors"
copyright = "2026, The Linewright authors"
version = release = __version__

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
nitpicky = True

myst_heading_anchors = 3

html_theme = "alabaster"
html_theme_options = {
    "description": "Assembly lines on linear-motor carrier conveyors",
    "github_button": False,
    "page_width": "76rem",
    "body_max_width": "60rem",
    "sidebar_width": "14rem",
    "fixed_sidebar": False,
    # Font names only: all of them are on the reader's machine or fall back to its own.
    "font_family": "system-ui, sans-serif",
    "head_font_family": "system-ui, sans-serif",
}
html_sidebars = {"**": ["about.html", "navigation.html", "searchbox.html"]}
html_show_sourcelink = False
html_copy_source = False
