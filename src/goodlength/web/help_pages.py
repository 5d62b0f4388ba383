"""The guides of goodlength as pages: shipped with the package and rendered here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from markupsafe import Markup

HERE = Path(__file__).parent
SHIPPED = HERE / "guides"  # in an installed goodlength; beside the sources they lie in docs/
SECTIONS: Mapping[str, tuple[str, ...]] = {
    "Begin": (
        "tutorial",
        "how-to/film-a-match",
        "how-to/send-video-from-a-phone",
        "how-to/watch-a-folder",
        "reference/keys",
    ),
    "From the video": (
        "how-to/detect-the-rallies",
        "how-to/calibrate-the-camera",
        "how-to/track-the-players",
        "how-to/measure-a-serve",
        "how-to/detect-the-ball",
        "how-to/calibrate-a-court",
    ),
    "Coaching": (
        "how-to/show-clips",
        "how-to/between-games",
        "how-to/read-length-and-tightness",
        "how-to/aim-a-serve",
        "how-to/plan-and-log-practice",
        "how-to/over-several-matches",
        "how-to/prepare-for-an-opponent",
        "how-to/search-all-matches",
        "how-to/two-observers",
        "how-to/import-a-table",
        "how-to/handout-in-another-language",
    ),
    "Your library": (
        "how-to/consent-and-deleting",
        "how-to/back-up",
        "how-to/share-on-the-network",
        "how-to/share-a-library-on-a-server",
        "how-to/process-many-videos",
        "how-to/install",
    ),
    "Why": (
        "how-far-to-trust",
        "glossary",
        "reasons/draft-sheet",
        "reasons/findings",
        "reasons/aim",
        "reasons/practice",
        "reasons/camera",
        "reasons/players",
        "reasons/measured-serve",
        "reasons/footage",
        "reasons/handout",
        "reasons/ball",
        "reasons/page",
    ),
}
NAMES = frozenset(name for names in SECTIONS.values() for name in names)
GUIDES: Mapping[str, str] = {
    "footage/footage_files": "how-to/film-a-match",
    "footage/phone_transfer": "how-to/send-video-from-a-phone",
    "footage/detected_rallies": "how-to/detect-the-rallies",
    "footage/detection_audit": "how-to/detect-the-rallies",
    "footage/camera_calibration": "how-to/calibrate-the-camera",
    "footage/player_tracking": "how-to/track-the-players",
    "footage/serve_measurement": "how-to/measure-a-serve",
    "footage/serve_anticipation": "how-to/over-several-matches",
    "footage/pose_correction": "how-to/measure-a-serve",
    "match/match_list": "tutorial",
    "match/match_preparation": "tutorial",
    "match/match_details": "tutorial",
    "match/rally_logging": "reference/keys",
    "match/score_draft": "reasons/draft-sheet",
    "match/findings": "reasons/findings",
    "match/findings_for_parents": "reasons/findings",
    "match/place_findings": "how-to/read-length-and-tightness",
    "match/between_games": "how-to/between-games",
    "match/opponent_brief": "how-to/prepare-for-an-opponent",
    "exchange/observer_agreement": "how-to/two-observers",
    "exchange/import_preview": "how-to/import-a-table",
    "match/season_search": "how-to/search-all-matches",
    "library/player_list": "how-to/consent-and-deleting",
    "library/player_profile": "how-to/consent-and-deleting",
    "library/player_trend": "how-to/over-several-matches",
    "library/recycle_bin": "how-to/consent-and-deleting",
    "library/settings": "how-to/back-up",
    "library/reliability": "how-far-to-trust",
    "practice/aim_target": "how-to/aim-a-serve",
    "practice/practice_plan": "how-to/plan-and-log-practice",
    "practice/saved_practice_plan": "how-to/plan-and-log-practice",
    "practice/practice_overview": "how-to/plan-and-log-practice",
    "practice/practice_progress": "how-to/plan-and-log-practice",
    "practice/attempt_logging": "how-to/plan-and-log-practice",
    "practice/detected_attempts": "how-to/plan-and-log-practice",
    "practice/drill_library": "how-to/plan-and-log-practice",
    "practice/practice_recordings": "how-to/plan-and-log-practice",
    "practice/season_calendar": "how-to/plan-and-log-practice",
    "sharing/handout_form": "reasons/handout",
    "sharing/rally_playlist": "how-to/show-clips",
    "sharing/side_by_side_video": "how-to/show-clips",
    "sharing/video_review_setup": "how-to/show-clips",
    "sharing/video_review_presentation": "how-to/show-clips",
}
_LINK = re.compile(r"(?<!!)\[([^\]]+)\]\(([^)\s]+)\)")


@dataclass(frozen=True)
class Guide:
    """One guide: its name, its title, and its text as safe HTML."""

    name: str
    title: str
    html: Markup


def help_address(template: str) -> str:
    """Return the address of the guide to the page of a template; that of the list where there is none.

    Examples
    --------
    >>> help_address("footage/camera_calibration.html"), help_address("layout/error.html")
    ('/help/how-to/calibrate-the-camera', '/help')
    """
    name = GUIDES.get(template.removesuffix(".html"))
    return f"/help/{name}" if name else "/help"


def guide_file(name: str) -> Path:
    """Return where the text of a shipped guide lies."""
    home = SHIPPED if SHIPPED.is_dir() else HERE.parents[2] / "docs"
    return home / f"{name}.md"


@cache
def guide(name: str) -> Guide:
    """Return a guide, rendered once; `name` is one of `NAMES`.

    Markup in the text is shown as text; links lead to other guides, and to nothing outside the page.
    """
    from markdown_it import MarkdownIt

    text = guide_file(name).read_text(encoding="utf-8")
    title, _, rest = text.partition("\n")
    renderer = MarkdownIt("commonmark", {"html": False}).enable("table")
    renderer.validateLink = lambda url: url.startswith("/help/")  # type: ignore[method-assign]
    html = renderer.render(_linked(rest, name))
    return Guide(name, title.removeprefix("# ").strip(), Markup(html))


def guide_title(name: str) -> str:
    """Return the title of a guide without rendering it."""
    with guide_file(name).open(encoding="utf-8") as file:
        return file.readline().removeprefix("# ").strip()


def _linked(text: str, name: str) -> str:
    """Turn links between guides into addresses of the page; what is not shipped becomes plain words."""
    folder = name.rpartition("/")[0]

    def turned(found: re.Match[str]) -> str:
        words, target = found.groups()
        path, _, part = target.partition("#")
        guide_name = _within(folder, path)
        if guide_name in NAMES:
            return f"[{words}](/help/{guide_name}{'#' + part if part else ''})"
        return words

    return _LINK.sub(turned, text)


def _within(folder: str, path: str) -> str:
    """Return a relative path of the guides as a name, without its ending."""
    parts = [part for part in folder.split("/") if part]
    for part in path.removesuffix(".md").split("/"):
        if part == "..":
            parts = parts[:-1]
        elif part not in ("", "."):
            parts.append(part)
    return "/".join(parts)
