"""The two TOML formats: a file or a text in, a Design or Brief out, and back without loss."""

from boxwright.files.editing import edit_brief, edit_brief_text, edit_design, edit_design_text
from boxwright.files.loading import (
    dumps_brief,
    dumps_design,
    load_brief,
    load_brief_with_notes,
    load_design,
    load_design_with_notes,
    loads_brief,
    loads_brief_with_notes,
    loads_design,
    loads_design_with_notes,
    save_brief,
    save_design,
)
from boxwright.files.placing import blaming

__all__ = [
    "blaming",
    "dumps_brief",
    "dumps_design",
    "edit_brief",
    "edit_brief_text",
    "edit_design",
    "edit_design_text",
    "load_brief",
    "load_brief_with_notes",
    "load_design",
    "load_design_with_notes",
    "loads_brief",
    "loads_brief_with_notes",
    "loads_design",
    "loads_design_with_notes",
    "save_brief",
    "save_design",
]
