"""The four jobs of the README's session, by a client that was generated from the API's document.

    LEDGERBOARD_URL=.. LEDGERBOARD_TOKEN=.. python four_jobs.py
"""

import csv
import datetime
import io
import os
import uuid
from decimal import Decimal
from http import HTTPStatus
from typing import TypeVar

from ledgerboard_client import AuthenticatedClient
from ledgerboard_client.api.accounts import open_account
from ledgerboard_client.api.costing import state_episode
from ledgerboard_client.api.episodes import plan_episode
from ledgerboard_client.api.furniture import sell_unrecorded_piece
from ledgerboard_client.api.projects import open_project
from ledgerboard_client.api.tax_years import show_year_summary
from ledgerboard_client.api.tools import acquire_tool, log_tool_uses
from ledgerboard_client.models import (
    MoneyAccountKind,
    NewEpisode,
    NewMoneyAccount,
    NewPieceAndSale,
    NewProject,
    NewTool,
    NewUses,
    Place,
    PlanName,
    RecordedBody,
    Statement,
    ToolOrigin,
    UseAsked,
    YearSummary,
)
from ledgerboard_client.types import Response

Told = TypeVar("Told")


def recorded(answer: Response[Told]) -> RecordedBody:
    told = answer.parsed
    assert isinstance(told, RecordedBody), told
    assert answer.status_code == HTTPStatus.CREATED and told.recorded, answer.content
    return told


def made(answer: Response[Told]) -> uuid.UUID:
    told = recorded(answer).id
    assert isinstance(told, uuid.UUID), told
    return told


def day(text: str) -> datetime.date:
    return datetime.date.fromisoformat(text)


def main() -> None:
    door = AuthenticatedClient(base_url=os.environ["LEDGERBOARD_URL"], token=os.environ["LEDGERBOARD_TOKEN"])
    cash = made(
        open_account.sync_detailed(client=door, body=NewMoneyAccount(name="Cash", kind=MoneyAccountKind.CASH))
    )
    room = made(
        open_project.sync_detailed(client=door, body=NewProject(name="The box room", place=Place.OWN_HOME))
    )
    first, second = (
        made(plan_episode.sync_detailed(client=door, body=NewEpisode(title=title, project=room)))
        for title in ("Out with the old", "Panelling")
    )

    # One: the old dresser, sold for 180.00 in cash, for this episode. A second copy under the same key changes nothing.
    sale = NewPieceAndSale(
        name="Old dresser",
        date=day("2025-03-01"),
        gross="180.00",
        paid_into=cash,
        acquired_on=day("2015-05-01"),
        basis="420.00",
        episode=first,
    )
    key = str(uuid.uuid4())
    sold = sell_unrecorded_piece.sync_detailed(client=door, body=sale, idempotency_key=key)
    again = sell_unrecorded_piece.sync_detailed(client=door, body=sale, idempotency_key=key)
    assert made(again) == made(sold) and again.headers["Idempotency-Replayed"] == "true"
    assert any("240.00" in note for note in recorded(sold).notes), recorded(sold).notes

    # Two: a nailer of 300.00, attributed to two episodes by hours.
    nailer = NewTool(
        name="Nailer",
        date=day("2025-03-02"),
        origin=ToolOrigin.BOUGHT,
        cost="300.00",
        paid_from=cash,
        method=PlanName.PER_USE_HOUR,
        hours_expected="60",
    )
    tool = made(acquire_tool.sync_detailed(client=door, body=nailer))
    uses = NewUses(
        uses=[
            UseAsked(date=day("2025-03-03"), episode=first, hours="4"),
            UseAsked(date=day("2025-03-20"), episode=second, hours="2.5"),
        ]
    )
    recorded(log_tool_uses.sync_detailed(tool, client=door, body=uses))

    # Three: what the first episode truly cost: four hours of five.
    statement = state_episode.sync(first, client=door)
    assert isinstance(statement, Statement), statement
    assert statement.reconciles and Decimal(statement.cost_total) == 20, statement

    # Four: the year, and as a spreadsheet opens it; the generated reader of an answer knows JSON only.
    summary = show_year_summary.sync(2025, client=door)
    assert isinstance(summary, YearSummary), summary
    file = door.get_httpx_client().get("/v1/tax-years/2025/summary", params={"format": "csv"})
    rows = list(csv.reader(io.StringIO(file.raise_for_status().text)))
    exact = {line.line: line.exact for line in summary.lines if isinstance(line.exact, str)}
    assert len(exact) > 30 and exact == {row[1]: row[3] for row in rows if row[0] == "form" and row[3]}, rows
    print(f"four jobs done: {len(rows)} lines of the year")


main()
