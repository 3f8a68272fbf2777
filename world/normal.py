#!/usr/bin/env python3
"""Makes the tables of the ziggurat that draws normal numbers.

Run from the top of the repository:

    python3 world/normal.py > world/src/normal/tables.rs

Needs Python 3.9 and nothing else: fifty decimal digits, rounded to double precision at the end.

Marsaglia and Tsang, "The Ziggurat Method for Generating Random Variables", Journal of Statistical
Software 5(8), 2000: under f(x) = exp(-x^2/2), x >= 0, lie 256 layers of one area V. The lowest one is
a rectangle of height f(R) with the tail beyond R; layer i > 0 reaches from f(x_i) to f(x_{i+1}) and
has the width x_i. With x_1 = R, x_{i+1} = f^-1(f(x_i) + V/x_i), and R is where x_256 comes out as 0.
"""

from decimal import Decimal, getcontext

getcontext().prec = 50
LAYERS = 256


def density(x):
    return (-x * x / 2).exp()


def tail(r):
    """The integral of the density beyond r, by Laplace's continued fraction."""
    fraction = Decimal(0)
    for k in range(400, 0, -1):
        fraction = k / (r + fraction)
    return density(r) / (r + fraction)


def layers(r):
    """Area of a layer and the widths x_1 to x_255, and what is left above the last: 0 for the right R."""
    area = r * density(r) + tail(r)
    widths = [r]
    for _ in range(LAYERS - 2):
        top = density(widths[-1]) + area / widths[-1]
        if top >= 1:
            return area, widths, top - 1
        widths.append((-2 * top.ln()).sqrt())
    return area, widths, density(widths[-1]) + area / widths[-1] - 1


def main():
    low, high = Decimal("3.6"), Decimal("3.7")
    # A larger R makes smaller layers, which leave room at the top.
    for _ in range(150):
        middle = (low + high) / 2
        if layers(middle)[2] > 0:
            low = middle
        else:
            high = middle
    area, widths, left = layers(high)
    assert len(widths) == LAYERS - 1 and abs(left) < Decimal("1e-40")
    # Marsaglia and Tsang, their table for 256 layers.
    assert str(high).startswith("3.6541528853610") and str(area).startswith("0.0049286732339")
    x = [area / density(high), *widths, Decimal(0)]
    f = [density(x) for x in x]
    print("//! Layers of the ziggurat. Printed by `world/normal.py`: change the script, not the table.")
    for name, what, values in [("X", "Widths of the layers; the first as wide as a rectangle of its area", x), ("F", "e^(−x²/2) at each of them", f)]:
        print(f"\n/// {what}.")
        print(f"pub(super) const {name}: [f64; {len(values)}] = [")
        line = "   "
        for value in values:
            text = f" {float(value)!r},"
            if len(line) + len(text) > 110:
                print(line)
                line = "   "
            line += text
        print(line)
        print("];")


main()
