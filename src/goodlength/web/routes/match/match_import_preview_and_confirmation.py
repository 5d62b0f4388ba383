"""Routes that import a match: take a file or a pasted table, show what it would bring, and confirm it."""

from __future__ import annotations

import re
from collections.abc import AsyncIterator
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import quote

from fastapi import APIRouter, Depends, Request
from starlette.responses import RedirectResponse, Response

from goodlength import tasks
from goodlength.errors import InputError, NotFound
from goodlength.files import library_layout
from goodlength.files.copied_in_file_destination import target_for
from goodlength.tasks.library.table_import_columns import TEMPLATE, foreign_table, remember_columns
from goodlength.web.http.host_origin_and_body_size_guard import IMPORT_LIMIT_BYTES
from goodlength.web.http.route_dependencies import CurrentLibrary
from goodlength.web.http.upload_to_disk import receive
from goodlength.web.page_rendering import page
from goodlength.web.submitted_forms.form_reading_and_faults import Submitted, file_in, posted, read_sent
from goodlength.web.submitted_forms.match_import_and_search_forms import ImportForm, PastedForm
from goodlength.web.views.match_description_and_result_phrases import count_words
from goodlength.web.views.search_and_import.import_columns_view import (
    column_options,
    likely_name,
    problem_rows,
)

if TYPE_CHECKING:
    from goodlength.record.store import Library
    from goodlength.tasks.library.table_import_columns import ForeignTable

router = APIRouter(include_in_schema=False)
PostedImport = Annotated[Submitted[ImportForm], Depends(posted(ImportForm))]
MARK = "import"
PASTED = "pasted table.csv"


@router.get("/matches/import/template.csv")
def template() -> Response:
    """Return a table to fill in: its headings, and three lines to overwrite."""
    headers = {"content-disposition": 'attachment; filename="rallies of one match.csv"'}
    return Response(TEMPLATE.encode("utf-8"), media_type="text/csv; charset=utf-8", headers=headers)


@router.post("/matches/import")
async def preview(request: Request, library: CurrentLibrary) -> Response:
    """Take the file or the pasted table, say what it would bring, keep nothing of it in the record yet."""
    from starlette.concurrency import run_in_threadpool

    async with request.form(max_files=1, max_fields=5, max_part_size=IMPORT_LIMIT_BYTES) as form:
        file, pasted = file_in(form, "file"), read_sent(PastedForm, form).value.pasted.strip("\r\n")
        if file is not None:
            path = target_for(library.folder, file.filename or "", f"{MARK}-")
            await receive(_chunks(file), path, min(file.size or 0, IMPORT_LIMIT_BYTES))
        elif pasted.strip():
            path = target_for(library.folder, PASTED, f"{MARK}-")
            data = pasted.encode("utf-8")
            await receive(_once(data), path, len(data))
        else:
            raise InputError(
                "Choose a file or paste a table first: a goodlength .json, or a table with a line a rally."
            )
    return await run_in_threadpool(_first_preview, request, library, path)


@router.post("/matches/import/keep")
def confirm_import(request: Request, library: CurrentLibrary, form: PostedImport) -> Response:
    """Bring it in; where other columns or names were chosen than those shown, show it again first."""
    choices = form.value
    path = _uploaded_file(library, choices.token)
    if choices.leave:
        path.unlink(missing_ok=True)
        return RedirectResponse("/matches", status_code=303)
    table, choice = None, None
    if path.suffix.lower() != ".json":
        table, choice = _chosen(library, path, choices)
        if choices.read_again or choices.seen != _seen(choice):
            return _preview_page(request, library, path, table, choice, changed=not choices.read_again)
    imported = tasks.import_match(library, path, keep_going=choices.keep_going, choice=choice)
    if choice is not None:
        remember_columns(library, choice.columns)
    path.unlink(missing_ok=True)
    request.app.state.season.start()
    return RedirectResponse(f"/matches/{quote(imported.match, safe='')}/record", status_code=303)


async def _chunks(file: Any) -> AsyncIterator[bytes]:
    while chunk := await file.read(1024 * 1024):
        yield chunk


async def _once(data: bytes) -> AsyncIterator[bytes]:
    yield data


def _uploaded_file(library: Library, token: str) -> Path:
    """Return the file that was looked at; its name is held to what `preview` gave."""
    path = library_layout.import_file(library.folder, token)
    if not re.fullmatch(rf"[0-9a-f]{{8}}-{MARK}-[\w .()+-]+", token) or not path.is_file():
        raise NotFound("The file is gone. Choose it again on the Matches page.")
    return path


def _first_preview(request: Request, library: Library, path: Path) -> Response:
    """Show a file that has just come; one that cannot be read at all is not kept."""
    try:
        table, choice = None, None
        if path.suffix.lower() in (".csv", ".tsv", ".txt"):
            table = foreign_table(library, path)
            names = tuple(likely_name(library, spelling) for spelling in table.written)
            choice = _choice(table, (names[0], names[1]), table.written)
        return _preview_page(request, library, path, table, choice)
    except Exception:
        path.unlink(missing_ok=True)
        raise


def _chosen(library: Library, path: Path, choices: ImportForm) -> tuple[ForeignTable, tasks.TableChoice]:
    """Return the table under the columns and names that the page sent; where it sent none, as guessed."""
    table = foreign_table(library, path)
    if choices.columns:
        by_heading = {guess.heading: choices.columns.get(n, "") for n, guess in enumerate(table.columns)}
        table = foreign_table(library, path, by_heading)
        written = (choices.written_a, choices.written_b)
        return table, _choice(table, (choices.name_a, choices.name_b), written)
    return table, _choice(table, table.written, table.written)


def _choice(table: ForeignTable, names: tuple[str, str], written: tuple[str, str]) -> tasks.TableChoice:
    return tasks.TableChoice({guess.heading: guess.column for guess in table.columns}, names, written)


def _seen(choice: tasks.TableChoice) -> str:
    """Return the mark of what the coach has seen, so that nothing else is saved."""
    return sha256(choice.mark()).hexdigest()[:16]


def _preview_page(
    request: Request,
    library: Library,
    path: Path,
    table: ForeignTable | None,
    choice: tasks.TableChoice | None,
    *,
    changed: bool = False,
) -> Response:
    imported = tasks.preview_import(library, path, choice=choice)
    return page(
        request,
        "exchange/import_preview.html",
        token=path.name,
        name=path.name.split(f"{MARK}-", 1)[-1],
        imported=imported,
        problems=problem_rows(imported.problems),
        rallies=count_words(imported.rallies, "rally", "rallies"),
        answers=count_words(imported.new_entries, "answer"),
        table=table,
        choice=choice,
        seen="" if choice is None else _seen(choice),
        changed=changed,
        options=column_options(),
        players=tasks.players(library),
    )
