"""What is shown or handed to a player: clips, pairs, the review list, the handout and its links."""

from goodlength.tasks.sharing.exported_file_removal import remove_clip
from goodlength.tasks.sharing.handout_content_and_files import (
    EditedFinding,
    HandoutDraft,
    HandoutEdits,
    draft_handout,
    handout_refusal,
    make_handout,
    usual_findings,
)
from goodlength.tasks.sharing.handout_links import HandoutLink, make_link, match_of_link
from goodlength.tasks.sharing.video_export_jobs import (
    ExportedFile,
    InlineStarter,
    chosen_rallies,
    export_file,
    exports_of,
    pieces_of,
    start_clip,
    start_pack,
    start_pair,
    start_reel,
    start_stills,
)

__all__ = [
    "EditedFinding",
    "ExportedFile",
    "HandoutDraft",
    "HandoutEdits",
    "HandoutLink",
    "InlineStarter",
    "chosen_rallies",
    "draft_handout",
    "export_file",
    "exports_of",
    "handout_refusal",
    "make_handout",
    "make_link",
    "match_of_link",
    "pieces_of",
    "remove_clip",
    "start_clip",
    "start_pack",
    "start_pair",
    "start_reel",
    "start_stills",
    "usual_findings",
]
