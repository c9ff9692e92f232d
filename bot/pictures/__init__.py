"""Pictures and papers. `draw` turns a sheet into bytes; the libraries that draw are loaded when something is drawn."""

from bot.pictures.sheets import Board, PocketCard, ServiceRecord, Sheet

PNG, PDF = "image/png", "application/pdf"


def draw(sheet: Sheet, mime: str) -> bytes:
    """Draw a sheet as `PNG` or `PDF`: a board is a picture, a pocket card either, the rest are papers.

    The same sheet gives the same bytes.
    """
    # ruff: noqa: PLC0415 - see above
    if isinstance(sheet, Board):
        from bot.pictures.board import draw_board

        return draw_board(sheet)
    if isinstance(sheet, PocketCard):
        from bot.pictures.card import draw_card, draw_card_picture

        return draw_card_picture(sheet) if mime == PNG else draw_card(sheet)
    if isinstance(sheet, ServiceRecord):
        from bot.pictures.record import draw_record

        return draw_record(sheet)
    from bot.pictures.trip_sheet import draw_trip_sheet

    return draw_trip_sheet(sheet)
