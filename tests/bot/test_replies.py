"""Files and drawings on their way: drawn when they are sent, and never a reason to send nothing."""

from io import BytesIO
from types import SimpleNamespace

import pytest
from PIL import Image
from pypdf import PdfReader

from bot.pictures import PDF, PNG
from bot.pictures.sheets import Board, CheckGroup, PocketCard, ServiceRecord, TripSheet
from bot.post import Post, post_of
from bot.replies import Drawing, File, Reply

ON = "1 June 2026"
BOARD = Board(locker="Your kit", on=ON, first="Nothing is due")
CARD = PocketCard(locker="Your kit", on=ON, items=(), cautions=("The manual goes first.",))
RECORD = ServiceRecord(title="Service record", on=ON, summary=(), chapters=(), notes=())
SHEET = TripSheet(
    locker="Your kit", on=ON, trip="1 to 2 June", groups=(CheckGroup(title="To take", boxes=("grease",)),)
)


@pytest.mark.parametrize(
    ("sheet", "mime"), [(BOARD, PNG), (CARD, PNG), (CARD, PDF), (RECORD, PDF), (SHEET, PDF)]
)
def test_each_sheet_is_drawn_in_its_format(sheet, mime):
    content = Drawing("a", mime, sheet).opened().content
    if mime == PNG:
        assert Image.open(BytesIO(content)).format == "PNG"
    else:
        assert len(PdfReader(BytesIO(content)).pages) == 1


@pytest.mark.parametrize(("sheet", "mime"), [(BOARD, PNG), (CARD, PDF), (RECORD, PDF), (SHEET, PDF)])
def test_a_letter_keeps_the_sheet_and_draws_the_same(sheet, mime):
    """What is stored is small, and what arrives after a restart is what would have arrived before it."""
    drawing = Drawing("a.bin", mime, sheet, ("plain",))
    stored = post_of(Reply("Here.", files=(drawing,)), (), "key").model_dump(mode="json")
    (enclosed,) = Post.model_validate(stored).files
    assert enclosed.content == b""
    assert enclosed.opened() == drawing.opened()


def test_a_plain_file_passes_as_it_is():
    file = File("a.ics", "text/calendar", b"BEGIN:VCALENDAR")
    stored = post_of(Reply("Here.", files=(file,)), (), "key").model_dump(mode="json")
    assert Post.model_validate(stored).files[0].opened() == file == file.opened()


def test_what_cannot_be_drawn_goes_out_as_its_plain_lines(monkeypatch):
    logged = []
    monkeypatch.setattr(
        "bot.replies.log", SimpleNamespace(exception=lambda event, **of: logged.append((event, of)))
    )
    monkeypatch.setattr("bot.replies.draw", lambda *_: 1 / 0)
    told = Drawing("due-board.png", PNG, BOARD, ("Your kit", "Nothing is due")).opened()
    assert (told.name, told.mime, told.content) == (
        "due-board.txt",
        "text/plain",
        b"Your kit\nNothing is due",
    )
    assert Drawing("card.pdf", PDF, CARD).opened().content.startswith(b"It could not be drawn.")
    assert logged == [("drawing_failed", {"kind": kind}) for kind in ("board", "card")]
