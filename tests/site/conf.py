"""How the pages of the documentation become a site: ``make site``."""

from auditor import __version__
from auditor.report.style import PALETTE

project = "Exposure auditor"
version = release = __version__
extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
myst_heading_anchors = 6  # links to headings, as the pages have them in a checkout
nitpicky = True

html_theme = "furo"
html_title = f"{project} {release}"
html_show_sphinx = html_show_copyright = html_show_sourcelink = html_copy_source = False
html_static_path = ["site.css"]
html_css_files = ["site.css"]
templates_path = ["."]
pygments_style, pygments_dark_style = "bw", "github-dark"

_NAMES = {
    "color-brand-primary": "accent",
    "color-brand-content": "accent",
    "color-brand-visited": "accent",
    "color-foreground-primary": "ink",
    "color-foreground-secondary": "soft",
    "color-foreground-muted": "soft",
    "color-background-primary": "raised",
    "color-background-secondary": "sheet",
    "color-background-border": "rule",
}
html_theme_options = {
    "top_of_page_buttons": [],
    "light_css_variables": {there: PALETTE[here][0] for there, here in _NAMES.items()},
    "dark_css_variables": {there: PALETTE[here][1] for there, here in _NAMES.items()},
}
