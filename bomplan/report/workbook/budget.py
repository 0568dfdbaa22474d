"""The budget against what is spent: a row per line to record what is ordered, paid and here.

The recorded columns are the ledger's; they are read back by the names in the head.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Final

from bomplan.buying.ledger import OWN, Entry, Ledger, own_line
from bomplan.design.purchase_lines import bought_only, is_spare
from bomplan.design.records import Line, Plan
from bomplan.money import currency_decimals
from bomplan.report.reading import money_value
from bomplan.report.text import clean
from bomplan.report.workbook import bill as bill_columns
from bomplan.report.workbook.bill import BillCells
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Budget"
LINE, STATE, WHAT, SUPPLIER, BUY, UNIT, PLANNED, ORDERED, PAID, RECEIVED = range(10)
DATE, NOTE, LEFT, OWING, CHANGE = range(10, 15)
_SUMS_ROW: Final = 4
HEAD_ROW: Final = 6
_BLANK_OWN: Final = 15
# Heads by which a workbook is read back; money has its currency behind.
HEADS: Final[Mapping[str, int]] = {
    "Line": LINE,
    "What": WHAT,
    "Supplier": SUPPLIER,
    "Planned": PLANNED,
    "Ordered": ORDERED,
    "Paid": PAID,
    "Received": RECEIVED,
    "Date": DATE,
    "Note": NOTE,
}
TO_BUY, PART, ON_ORDER, HERE, RETIRED = "TO BUY", "in part", "ordered", "here", "NOT PLANNED"

_HOW_TO: Final = (
    "Record what you order, pay and receive in the pale cells; 'bomplan plan' and 'bomplan ledger"
    " read' take it into ledger.csv. Rows own/1 and on are for lines of your own. For a further"
    " order of a line, copy its row."
)
_HELP: Final = {
    LINE: "Which line of the bill. #2 and so on are further orders of the same line; own/1 and"
    " on are yours to fill in.",
    STATE: "TO BUY: nothing ordered yet. in part: some. ordered: all, not yet here. here: all"
    " arrived. NOT PLANNED: you have recorded something that this plan no longer asks for.",
    PLANNED: "What it costs in this plan, from the sheet Bill. On your own lines: what you expect"
    " to pay.",
    ORDERED: "How many you have ordered.",
    PAID: "What you have paid for it so far, tax and shipping as you paid them. A refund is"
    " negative.",
    RECEIVED: "How many have arrived.",
    DATE: "Day of the last of these.",
    LEFT: "To buy, less what is ordered or here.",
    OWING: "Planned, less what is paid; nothing more once all is here and something is paid.",
    CHANGE: "Against the plan of the workbook that was last read: new, or how many it was before.",
}


@dataclass(frozen=True)
class BudgetCells:
    """Where the summary finds what is spent, and the values there (money as shown).

    ``states`` is the state of each line of the plan by its number: cell and words.
    """

    paid: str
    owing: str
    lines_left: str
    own: str
    states: Mapping[int, tuple[str, str]]
    paid_value: float
    owing_value: float
    lines_left_value: int
    own_value: float


@dataclass(frozen=True)
class _Row:
    """One row with its figures worked out; ``main`` rows carry what is left."""

    entry: Entry
    index: int | None = None
    main: bool = True
    retired: bool = False


@dataclass(frozen=True)
class _Sums:
    ordered: Decimal
    paid: int
    received: Decimal


def line_id(line: Line) -> str:
    """How ledger and workbook call a line of the bill."""
    name = f"{line.family}/{line.part}"
    at = f"{name}@{line.supplier}" if bought_only(line) and line.supplier else name
    return f"{at}/spare" if is_spare(line) else at


def budget_rows(plan: Plan, ledger: Ledger) -> tuple[_Row, ...]:
    """Every line of the plan with its orders, then what is no longer planned, then own lines."""
    known = ledger.by_line()
    further: dict[str, list[Entry]] = {}
    for entry in ledger.entries:
        if entry.line != entry.bill_line:
            further.setdefault(entry.bill_line, []).append(entry)
    rows: list[_Row] = []
    planned: set[str] = set()
    for index, line in enumerate(plan.lines):
        name = line_id(line)
        fresh = Entry(name, what=clean(line.description, 500), supplier=line.supplier)
        entry = known.get(name, fresh) if name not in planned else fresh
        now = {"planned": Decimal(line.bought), "expected": line.price}
        rows.append(_Row(_with(entry, fresh, **now), index))
        if name not in planned:
            rows.extend(_Row(one, index, main=False) for one in further.get(name, ()))
        planned.add(name)
    rest = [e for e in ledger.entries if e.bill_line not in planned and e.recorded]
    rows.extend(_Row(e, main=e.line == e.bill_line, retired=True) for e in rest if not e.own)
    rows.extend(_Row(e, main=e.line == e.bill_line) for e in rest if e.own)
    lines = {row.entry.line for row in rows} | known.keys()
    for _ in range(_BLANK_OWN):
        blank = own_line(lines)
        lines.add(blank)
        rows.append(_Row(Entry(blank)))
    return tuple(rows)


def written_entries(plan: Plan, ledger: Ledger) -> tuple[Entry, ...]:
    """What stands in the rows of the sheet, for reading it back."""
    return tuple(row.entry for row in budget_rows(plan, ledger))


def _with(entry: Entry, fresh: Entry, **values: Any) -> Entry:
    """The ledger's entry with what the plan says where the ledger says nothing."""
    what, supplier = entry.what or fresh.what, entry.supplier or fresh.supplier
    told = {**entry.__dict__, "what": what, "supplier": supplier, **values}
    return Entry(**told)


def write_budget(sheet: Sheet, plan: Plan, ledger: Ledger, bill: BillCells) -> BudgetCells:
    """Write the rows and the sums on top; the cells that the summary shows."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "Budget against spent", styles.title())
    sheet.text(1, 0, _HOW_TO, styles.text(wrap=False))
    sheet.headers(HEAD_ROW, _heads(plan.currency))
    sheet.helps(HEAD_ROW, _HELP)
    rows = budget_rows(plan, ledger)
    first, last = HEAD_ROW + 1, HEAD_ROW + len(rows)
    sums = _sums(rows)
    known = ledger.by_line()
    owing = left_lines = paid = own = 0
    states: dict[int, tuple[str, str]] = {}
    for number, row in enumerate(rows, start=first):
        _write_entry(sheet, number, row, plan)
        _write_planned(sheet, number, row, plan, bill)
        paid += row.entry.paid or 0
        if row.entry.own:
            own += row.entry.expected or 0
        if row.main:
            here = _write_state(sheet, number, row, plan, sums[row.entry.bill_line], first, last)
            owing += here
            words = _state(row, plan, sums[row.entry.bill_line])[0]
            left_lines += words in (TO_BUY, PART)
            if row.index is not None:
                states[row.index] = (sheet.ref(number, STATE), words)
        else:
            sheet.text(number, STATE, "order", styles.text())
        sheet.text(number, CHANGE, _change(row, plan, known), styles.text())
    sheet.page.autofilter(HEAD_ROW, 0, last, CHANGE)
    sheet.page.freeze_panes(HEAD_ROW + 1, WHAT)
    _finish(sheet, first, last)
    cells = _write_sums(sheet, plan, bill, first, last, (paid, owing, left_lines, own), states)
    sheet.print_setup(plan.project, repeat_row=HEAD_ROW)
    return cells


def _heads(currency: str) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("Line", 26, False),
        ("State", 11, False),
        ("What", 34, False),
        ("Supplier", 15, False),
        ("To buy", 8, True),
        ("Unit", 8, False),
        (f"Planned {currency}", 11, True),
        ("Ordered", 9, True),
        (f"Paid {currency}", 11, True),
        ("Received", 9, True),
        ("Date", 11, False),
        ("Note", 28, False),
        ("Still to buy", 8, True),
        (f"Still to pay {currency}", 11, True),
        ("Change", 14, False),
    )


def _write_entry(sheet: Sheet, number: int, row: _Row, plan: Plan) -> None:
    """The columns that are read back."""
    styles, entry = sheet.styles, row.entry
    text = styles.text()
    edit = styles.input(wrap=True)
    sheet.exact(number, LINE, entry.line, styles.get(text_wrap=True, font_color="#5A6670"))
    sheet.exact(number, WHAT, entry.what, edit if entry.own else text)
    sheet.exact(number, SUPPLIER, entry.supplier, edit)
    for col, amount in ((ORDERED, entry.ordered), (RECEIVED, entry.received)):
        style = styles.number("0.###", edit=True)
        if amount is None:
            sheet.page.write_blank(number, col, None, style)
        else:
            sheet.number(number, col, float(amount), style)
    _write_money(sheet, number, PAID, entry.paid, plan)
    style = styles.input(num_format="yyyy-mm-dd")
    sheet.date(number, DATE, entry.date, style)
    sheet.exact(number, NOTE, entry.note, edit)
    sheet.fit(
        number,
        ((LINE, entry.line), (WHAT, entry.what), (SUPPLIER, entry.supplier), (NOTE, entry.note)),
    )


def _write_money(sheet: Sheet, number: int, col: int, amount: int | None, plan: Plan) -> None:
    style = sheet.styles.number(sheet.styles.money, edit=True)
    if amount is None:
        sheet.page.write_blank(number, col, None, style)
    else:
        sheet.number(number, col, money_value(amount, plan.currency), style)


def _write_planned(sheet: Sheet, number: int, row: _Row, plan: Plan, bill: BillCells) -> None:
    """What the plan asks for, by formula from Bill; on own lines what the builder expects."""
    styles = sheet.styles
    if row.entry.own:
        what, planned = sheet.at(number, WHAT), sheet.at(number, PLANNED)
        asked = 1 if row.entry.what or row.entry.expected is not None else 0
        formula = f'=IF(AND({what}="",{planned}=""),0,1)'
        sheet.formula(number, BUY, formula, asked, styles.number("0;-0;"))
        _write_money(sheet, number, PLANNED, row.entry.expected, plan)
    elif row.index is not None and row.main:
        line = plan.lines[row.index]
        buy = f"={bill.line(row.index, bill_columns.BUY)}"
        sheet.formula(number, BUY, buy, line.bought, styles.number("0"))
        sheet.text(number, UNIT, line.unit)
        value = money_value(line.price, plan.currency)
        price = f"={bill.line(row.index, bill_columns.PRICE)}"
        sheet.formula(number, PLANNED, price, value, styles.number(styles.money))
    elif row.retired and row.main:
        sheet.number(number, BUY, 0, styles.number("0"))
        sheet.number(number, PLANNED, 0, styles.number(styles.money))


def _sums(rows: tuple[_Row, ...]) -> dict[str, _Sums]:
    sums: dict[str, _Sums] = {}
    for row in rows:
        one, entry = sums.get(row.entry.bill_line, _Sums(Decimal(), 0, Decimal())), row.entry
        sums[entry.bill_line] = _Sums(
            one.ordered + (entry.ordered or 0),
            one.paid + (entry.paid or 0),
            one.received + (entry.received or 0),
        )
    return sums


def _state(row: _Row, plan: Plan, sums: _Sums) -> tuple[str, Decimal, int]:
    """In words, how many are still to be bought, and what is still to be paid."""
    if row.entry.own:
        asked = Decimal(1 if row.entry.what or row.entry.expected is not None else 0)
        price = row.entry.expected or 0
    else:
        line = None if row.index is None else plan.lines[row.index]
        asked = Decimal(0 if line is None else line.bought)
        price = 0 if line is None else line.price
    got = max(sums.ordered, sums.received)
    left = max(Decimal(), asked - got)
    owing = 0 if sums.received >= asked and sums.paid > 0 else max(0, price - sums.paid)
    if row.retired:
        return RETIRED, left, owing
    if asked == 0:
        return "", left, owing
    if sums.received >= asked:
        return HERE, left, owing
    if got >= asked:
        return ON_ORDER, left, owing
    return (PART if got > 0 else TO_BUY), left, owing


def _write_state(
    sheet: Sheet, number: int, row: _Row, plan: Plan, sums: _Sums, first: int, last: int
) -> int:
    """State, still to buy and still to pay of a line; returns the last, in smallest units."""
    styles = sheet.styles
    line, asked, planned = (sheet.at(number, col) for col in (LINE, BUY, PLANNED))
    names = _span(sheet, first, last, LINE)

    def total(col: int) -> str:
        span = _span(sheet, first, last, col)
        return f'(SUMIFS({span},{names},{line})+SUMIFS({span},{names},{line}&"#*"))'

    ordered, paid, received = total(ORDERED), total(PAID), total(RECEIVED)
    words, left, owing = _state(row, plan, sums)
    if row.retired:
        sheet.text(number, STATE, words, styles.text(bold=True))
    else:
        formula = (
            f'=IF({asked}=0,"",IF({received}>={asked},"{HERE}",IF({ordered}>={asked},'
            f'"{ON_ORDER}",IF({ordered}+{received}>0,"{PART}","{TO_BUY}"))))'
        )
        sheet.formula(number, STATE, formula, words, styles.text())
    sheet.formula(
        number,
        LEFT,
        f"=MAX(0,{asked}-MAX({ordered},{received}))",
        float(left),
        styles.number("0.###;-0.###;"),
    )
    digits = currency_decimals(plan.currency)
    sheet.formula(
        number,
        OWING,
        f"=IF(AND({received}>={asked},{paid}>0),0,MAX(0,ROUND({planned}-{paid},{digits})))",
        money_value(owing, plan.currency),
        styles.number(f"{styles.money};-{styles.money};"),
    )
    return owing


def _change(row: _Row, plan: Plan, known: Mapping[str, Entry]) -> str:
    if row.retired:
        return "no longer planned"
    noted = any(entry.planned is not None for entry in known.values())
    if not noted or row.index is None or not row.main:
        return ""
    before = known.get(row.entry.line)
    bought = plan.lines[row.index].bought
    if before is None:
        return "new"
    if before.planned is not None and before.planned != bought:
        return f"was {before.planned:f}"
    return ""


def _span(sheet: Sheet, first: int, last: int, col: int) -> str:
    ends = (sheet.at(row, col, absolute=True) for row in (first, last))
    return ":".join(ends)


def _finish(sheet: Sheet, first: int, last: int) -> None:
    page = sheet.page
    for col in (ORDERED, RECEIVED):
        page.data_validation(first, col, last, col, {
            "validate": "decimal", "criteria": ">=", "value": 0, "error_type": "warning",
            "error_title": "Please check", "error_message": "A quantity is a number from 0 on.",
        })  # fmt: skip
    bold = sheet.styles.mark(bold=True)
    for word in (TO_BUY, RETIRED):
        page.conditional_format(first, STATE, last, STATE, {
            "type": "cell", "criteria": "==", "value": f'"{word}"', "format": bold,
        })  # fmt: skip
    page.conditional_format(first, STATE, last, STATE, {
        "type": "cell", "criteria": "==", "value": f'"{HERE}"',
        "format": sheet.styles.mark(italic=True, font_color="#5A6670"),
    })  # fmt: skip


def _write_sums(
    sheet: Sheet,
    plan: Plan,
    bill: BillCells,
    first: int,
    last: int,
    values: tuple[int, int, int, int],
    states: Mapping[int, tuple[str, str]],
) -> BudgetCells:
    """The sums above the table, and where the summary finds them."""
    styles = sheet.styles
    paid, owing, left_lines, own = values
    names = _span(sheet, first, last, LINE)
    planned = sum(line.price for line in plan.lines)

    def span(col: int) -> str:
        return _span(sheet, first, last, col)

    # What an edited order costs more stands in no row of this sheet.
    other = f",{bill.other_charges}" if bill.other_charges else ""
    money = styles.big(styles.money)
    shown = (
        (LINE, "Bill as planned", f"={bill.total(bill_columns.PRICE)}", planned),
        (WHAT, "Lines of your own", f'=SUMIFS({span(PLANNED)},{names},"{OWN}*")', own),
        (PLANNED, "Paid so far", f"=SUM({span(PAID)})", paid),
        (RECEIVED, "Still to pay", f"=SUM({span(OWING)}{other})", owing),
    )
    # A sum is larger than what its column below is made for.
    for first_col, last_col in ((PLANNED, PAID), (RECEIVED, DATE)):
        sheet.page.merge_range(_SUMS_ROW, first_col, _SUMS_ROW, last_col, "", money)
    for col, words, formula, value in shown:
        sheet.text(_SUMS_ROW - 1, col, words, styles.text(wrap=False))
        sheet.formula(_SUMS_ROW, col, formula, money_value(value, plan.currency), money)
    sheet.text(_SUMS_ROW - 1, NOTE, "Lines still to buy", styles.text(wrap=False))
    column = span(STATE)
    formula = f'=COUNTIF({column},"{TO_BUY}")+COUNTIF({column},"{PART}")'
    sheet.formula(_SUMS_ROW, NOTE, formula, left_lines, styles.big("0"))
    sheet.page.set_row(_SUMS_ROW, 24)
    return BudgetCells(
        sheet.ref(_SUMS_ROW, PLANNED),
        sheet.ref(_SUMS_ROW, RECEIVED),
        sheet.ref(_SUMS_ROW, NOTE),
        sheet.ref(_SUMS_ROW, WHAT),
        states,
        money_value(paid, plan.currency),
        money_value(owing, plan.currency),
        left_lines,
        money_value(own, plan.currency),
    )
