"""The order of buying by formula: gates that hold goods, and every line by its day."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from bomplan.design.buying_order import lead_days
from bomplan.design.money_records import BuyingOrder, Gate, Order
from bomplan.design.records import Line, Plan
from bomplan.report.reading import CHARGE_FAMILIES, money_value
from bomplan.report.workbook import bill as bill_columns
from bomplan.report.workbook.bill import NO_SUPPLIER, BillCells
from bomplan.report.workbook.invoices import Invoices
from bomplan.report.workbook.sheet import Sheet

NAME: Final = "Buying order"
ORDER, DATE, LATEST, LEAD, HERE, SUPPLIER, FAMILY, PART, BUY, PRICE, STATE, GATES, EARLIEST = range(
    13
)
_START_ROW: Final = 2
_GATE_HEAD: Final = 4
GATE, DONE, TAKES, DAY = 7, 1, 3, 0
_HOW_TO: Final = (
    "Day 0 is the day you begin; write it into the pale cell and the dates follow. Say 'yes' where"
    " a gate is behind you, and how long it takes."
)
_HELP: Final = {
    ORDER: "Day proposed: as soon as its gates are passed, or with the rest of its supplier's goods"
    " where all of them can wait for the last.",
    LATEST: "Last day on which it can be ordered and keep nothing waiting.",
    LEAD: "Days from order to delivery: the supplier's on Invoices, else the part's. Blank: the"
    " catalogue does not tell; it counts as 0.",
    SUPPLIER: "As on Bill. Lines of one order as planned keep their common day.",
    STATE: "From the sheet Budget.",
    GATES: "What must be behind you first.",
    EARLIEST: "The day on which the last of its gates can be passed.",
}


def write_order(
    sheet: Sheet,
    plan: Plan,
    told: BuyingOrder,
    bill: BillCells,
    states: Mapping[int, tuple[str, str]],
    invoices: Invoices,
) -> None:
    """Gates on top, orders below. ``states`` are Budget's words for each line by its number."""
    styles = sheet.styles
    sheet.page.set_row(0, 24)
    sheet.text(0, 0, "What to order when", styles.title())
    sheet.text(1, 0, _HOW_TO, styles.text(wrap=False))
    sheet.text(_START_ROW, ORDER, "You begin on", styles.text(bold=True, wrap=False))
    sheet.page.write_blank(_START_ROW, LEAD, None, styles.input(num_format="yyyy-mm-dd"))
    start = sheet.at(_START_ROW, LEAD, absolute=True)
    gate_rows = {gate.id: _GATE_HEAD + 1 + n for n, gate in enumerate(told.gates)}
    head = _GATE_HEAD + len(told.gates) + 3
    order_rows = {number: head + 1 + number for number in range(len(told.orders))}
    _write_gates(sheet, told, gate_rows, order_rows, start)
    sheet.headers(head, _heads(plan.currency))
    sheet.helps(head, _HELP)
    lines = _lines(plan, told.orders)
    for number, one in enumerate(told.orders):
        row = order_rows[number]
        _write_order(sheet, row, one, plan, start, bill, lines[number], states)
        index = lines[number]
        if index is not None and invoices.sellers:
            _write_seller(sheet, row, one, plan, index, bill, invoices)
        _write_days(sheet, row, one, told, gate_rows, order_rows)
    last = head + len(told.orders)
    if told.orders:
        sheet.page.autofilter(head, 0, last, EARLIEST)
        _write_end(sheet, last + 1, told, head + 1, last)
    for number, later in enumerate(told.later_shipments, start=last + 3):
        days = ", ".join(str(day) for day in later.days)
        words = (
            f"{later.supplier} cannot ship all at once (days {days}): ask to have the later goods"
            " held back, or pay shipping again."
        )
        sheet.text(number, 0, words, styles.text(wrap=False))
    sheet.print_setup(plan.project, repeat_row=head)


def _heads(currency: str) -> tuple[tuple[str, float, bool], ...]:
    return (
        ("Order on day", 9, True),
        ("Date", 12, False),
        ("Latest day", 9, True),
        ("Lead days", 12, True),
        ("Here on day", 9, True),
        ("Supplier", 18, False),
        ("Family", 19, False),
        ("Part", 28, False),
        ("To buy", 8, True),
        (f"Price {currency}", 12, True),
        ("State", 11, False),
        ("Not before", 40, False),
        ("Gates open on day", 10, True),
    )


def _write_gates(
    sheet: Sheet,
    told: BuyingOrder,
    rows: Mapping[str, int],
    order_rows: Mapping[int, int],
    start: str,
) -> None:
    styles = sheet.styles
    heads = {DAY: "Passed on day", DONE: "Date", 2: "Passed", TAKES: "Takes days", 5: "Gate"}
    # Two lines for heads that are broken: their height is not found by every program.
    sheet.page.set_row(_GATE_HEAD, 32)
    for col in range(EARLIEST + 1):
        words = heads.get(col, "")
        sheet.text(_GATE_HEAD, col, words, styles.header(right=col in (DAY, TAKES)))
    for gate in told.gates:
        row = rows[gate.id]
        sheet.text(row, 2, "yes" if gate.passed else "no", styles.input())
        sheet.number(row, TAKES, gate.takes_days, styles.number("0", edit=True))
        waits = _waits(sheet, gate, told, rows, order_rows)
        after = f"MAX(0{''.join(',' + one for one in waits)})"
        passed, takes = sheet.at(row, 2), sheet.at(row, TAKES)
        formula = f'=IF({passed}="yes",0,{after}+{takes})'
        sheet.formula(row, DAY, formula, gate.day, styles.number("0", bold=True))
        _write_date(sheet, row, DONE, start, sheet.at(row, DAY))
        sheet.text(row, 5, f"{gate.id}: {gate.words}", styles.text(wrap=False, bold=True))
        sheet.text(row, GATES, gate.why, styles.text(wrap=False))
    first, last = _GATE_HEAD + 1, _GATE_HEAD + len(told.gates)
    if told.gates:
        sheet.page.data_validation(first, 2, last, 2, {"validate": "list", "source": ["yes", "no"]})


def _waits(
    sheet: Sheet,
    gate: Gate,
    told: BuyingOrder,
    rows: Mapping[str, int],
    order_rows: Mapping[int, int],
) -> list[str]:
    """Cells that a gate waits for: earlier gates' days, and goods as soon as they can be here."""
    cells = []
    for name in gate.after:
        family = name.removesuffix(" here")
        if name == family:
            cells.append(sheet.at(rows[name], DAY))
            continue
        for number, one in enumerate(told.orders):
            if one.family == family:
                row = order_rows[number]
                cells.append(f"{sheet.at(row, EARLIEST)}+{sheet.at(row, LEAD)}")
    return cells


def _write_order(
    sheet: Sheet,
    row: int,
    one: Order,
    plan: Plan,
    start: str,
    bill: BillCells,
    index: int | None,
    states: Mapping[int, tuple[str, str]],
) -> None:
    styles = sheet.styles
    _write_date(sheet, row, DATE, start, sheet.at(row, ORDER))
    if one.lead_known:
        sheet.number(row, LEAD, one.lead_days, styles.number("0", edit=True))
    else:
        sheet.page.write_blank(row, LEAD, None, styles.number("0", edit=True))
    sheet.text(row, SUPPLIER, one.supplier or NO_SUPPLIER)
    sheet.text(row, FAMILY, one.family.replace("_", " "))
    sheet.text(row, PART, one.part)
    if index is None:
        _write_around(sheet, row, one, plan)
    else:
        line = plan.lines[index]
        buy = f"={bill.line(index, bill_columns.BUY)}"
        sheet.formula(row, BUY, buy, line.bought, styles.number("0"))
        price = f"={bill.line(index, bill_columns.PRICE)}"
        value = money_value(line.price, plan.currency)
        sheet.formula(row, PRICE, price, value, styles.number(styles.money))
        state = states.get(index)
        if state is not None:
            sheet.formula(row, STATE, f"={state[0]}", state[1], styles.text())
    names = ", ".join(one.gates)
    sheet.text(row, GATES, names)
    sheet.fit(row, ((SUPPLIER, one.supplier), (PART, one.part), (GATES, names)))


def _write_seller(
    sheet: Sheet,
    row: int,
    one: Order,
    plan: Plan,
    index: int,
    bill: BillCells,
    invoices: Invoices,
) -> None:
    """Who sells it as Bill says by now, and how long that takes there, else at the part's own."""
    styles = sheet.styles
    name = bill.words(index, bill_columns.SUPPLIER)
    sheet.formula(row, SUPPLIER, f"={name}", one.supplier or NO_SUPPLIER, styles.text(apart=True))
    own, known = lead_days(plan, plan.lines[index].model_copy(update={"supplier": ""}))
    theirs = invoices.lead_days_of(sheet.at(row, SUPPLIER), "0")
    shape = "0" if known or one.lead_known else "0;-0;"
    formula = f"=IF({theirs}>0,{theirs},{own})"
    sheet.formula(row, LEAD, formula, one.lead_days, styles.number(shape, edit=True))


def _write_around(sheet: Sheet, row: int, one: Order, plan: Plan) -> None:
    """Count and typical price of a tool or a chassis part, as on the sheet Whole sum."""
    items = plan.whole_sum.items if plan.whole_sum is not None else ()
    item = next((other for other in items if other.id == one.part), None)
    if item is not None:
        styles = sheet.styles
        sheet.number(row, BUY, item.count, styles.number("0"))
        value = money_value(item.typical, plan.currency)
        sheet.number(row, PRICE, value, styles.number(styles.money))
        sheet.text(row, STATE, "Whole sum")


def _write_days(
    sheet: Sheet,
    row: int,
    one: Order,
    told: BuyingOrder,
    gate_rows: Mapping[str, int],
    order_rows: Mapping[int, int],
) -> None:
    styles = sheet.styles
    plain = styles.number("0")
    opens = f"=MAX(0{''.join(',' + sheet.at(gate_rows[name], DAY) for name in one.gates)})"
    sheet.formula(row, EARLIEST, opens, one.earliest_day, plain)
    together = [
        order_rows[n]
        for n, other in enumerate(told.orders)
        if one.supplier and other.supplier == one.supplier and other.order_day == one.order_day
    ]
    cells = ",".join(sheet.at(place, EARLIEST) for place in together or [row])
    sheet.formula(row, ORDER, f"=MAX({cells})", one.order_day, styles.number("0", bold=True))
    here = f"={sheet.at(row, ORDER)}+{sheet.at(row, LEAD)}"
    sheet.formula(row, HERE, here, one.arrives_day, plain)
    sheet.number(row, LATEST, one.latest_day, plain)


def _write_date(sheet: Sheet, row: int, col: int, start: str, day: str) -> None:
    style = sheet.styles.get(num_format="yyyy-mm-dd", align="left")
    sheet.formula(row, col, f'=IF({start}="","",{start}+{day})', "", style)


def _write_end(sheet: Sheet, row: int, told: BuyingOrder, first: int, last: int) -> None:
    for col in range(EARLIEST + 1):
        sheet.page.write_blank(row, col, None, sheet.styles.group())
    sheet.text(row, ORDER, "All is here on day", sheet.styles.group())
    span = f"{sheet.at(first, HERE)}:{sheet.at(last, HERE)}"
    sheet.formula(row, HERE, f"=MAX({span})", told.all_here_day, sheet.styles.group("0"))


def _lines(plan: Plan, orders: tuple[Order, ...]) -> list[int | None]:
    """The number of the plan's line behind each order; None for goods that no line is of."""
    left: dict[tuple[str, str, str], list[int]] = {}
    for index, line in enumerate(plan.lines):
        if _bought(line):
            left.setdefault((line.family, line.part, line.supplier), []).append(index)
    found: list[int | None] = []
    for one in orders:
        indices = left.get((one.family, one.part, one.supplier))
        found.append(indices.pop(0) if indices else None)
    return found


def _bought(line: Line) -> bool:
    return bool(line.bought) and line.family not in CHARGE_FAMILIES
