"""One figure: a plane with two axes, onto which the others draw in their own units."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from html import escape
from math import floor, isfinite, log10

WIDTH, HEIGHT = 720, 400
LEFT, RIGHT, TOP, BOTTOM = 62, 20, 18, 52


@dataclass(frozen=True)
class Figure:
    """`svg` stands alone or in a page; `name` is its file's and its ids' beginning.

    `note`: what must be said under it.
    """

    name: str
    title: str
    svg: str
    note: str = ""


def plain(value: float) -> str:
    """A number of the drawing, in tenths."""
    return f"{value:.1f}".removesuffix(".0")


def ticks(low: float, high: float, about: int = 6) -> list[float]:
    """Round numbers between two, some `about` of them."""
    span = high - low
    if span <= 0 or not isfinite(span):
        return [low]
    step = 10 ** floor(log10(span / about))
    step *= next((more for more in (1, 2, 5) if span / (step * more) <= about), 10)
    first = -(-low // step)
    count = int(floor(high / step + 1e-9) - first) + 1
    return [round((first + number) * step, 10) for number in range(count)]


@dataclass
class Canvas:
    """Collects the elements of a figure. `x` and `y` are the spans of the axes."""

    name: str
    title: str
    description: str
    x: tuple[float, float]
    y: tuple[float, float]
    height: int = HEIGHT
    left: int = LEFT
    elements: list[str] = field(default_factory=list)

    def at(self, x: float, y: float) -> tuple[float, float]:
        """Where a point of the axes lies in the drawing."""
        across = (x - self.x[0]) / ((self.x[1] - self.x[0]) or 1)
        up = (y - self.y[0]) / ((self.y[1] - self.y[0]) or 1)
        return (
            self.left + across * (WIDTH - self.left - RIGHT),
            self.height - BOTTOM - up * (self.height - BOTTOM - TOP),
        )

    def axes(
        self,
        across: str,
        up: str,
        x_ticks: Sequence[tuple[float, str]] | None = None,
        write: Callable[[float], str] = lambda value: f"{value:,g}",
    ) -> None:
        """Both axes with their units; `x_ticks` are positions with words."""
        bottom, top = self.height - BOTTOM, TOP
        for value in ticks(*self.y):
            _, y = self.at(self.x[0], value)
            self.elements.append(
                f'<line class="grid" x1="{self.left}" x2="{WIDTH - RIGHT}" y1="{plain(y)}" '
                f'y2="{plain(y)}"/>'
            )
            self.text(self.left - 8, y + 4, write(value), "end")
        for value, word in x_ticks or [(one, write(one)) for one in ticks(*self.x)]:
            x, _ = self.at(value, self.y[0])
            self.elements.append(
                f'<line class="axis" x1="{plain(x)}" x2="{plain(x)}" y1="{bottom}" '
                f'y2="{bottom + 5}"/>'
            )
            self.text(x, bottom + 19, word, "middle")
        self.elements.append(
            f'<path class="axis" d="M{self.left} {top}V{bottom}H{WIDTH - RIGHT}"/>'
        )
        self.text((self.left + WIDTH - RIGHT) / 2, self.height - 8, across, "middle", "name")
        self.elements.append(
            f'<text class="name" text-anchor="middle" transform="translate(15 '
            f'{plain((top + bottom) / 2)}) rotate(-90)">{escape(up)}</text>'
        )

    def lower_axis(self, across: str) -> None:
        """The lower axis alone, with lines up from it: the rows have names."""
        bottom = self.height - BOTTOM
        for value in ticks(*self.x):
            x, _ = self.at(value, 0)
            self.elements.append(
                f'<line class="grid" x1="{plain(x)}" x2="{plain(x)}" y1="{TOP}" y2="{bottom}"/>'
            )
            self.text(x, bottom + 19, f"{value:,g}", "middle")
        self.elements.append(
            f'<path class="axis" d="M{self.left} {TOP}V{bottom}H{WIDTH - RIGHT}"/>'
        )
        self.text((self.left + WIDTH - RIGHT) / 2, self.height - 8, across, "middle", "name")

    def text(self, x: float, y: float, words: str, anchor: str = "start", kind: str = "") -> None:
        """Words at a point of the drawing."""
        class_ = f' class="{kind}"' if kind else ""
        self.elements.append(
            f'<text{class_} x="{plain(x)}" y="{plain(y)}" text-anchor="{anchor}">'
            f"{escape(words)}</text>"
        )

    def line(self, points: Iterable[tuple[float, float]], kind: str) -> None:
        """A line through points of the axes."""
        told = " ".join(f"{plain(x)},{plain(y)}" for x, y in (self.at(*point) for point in points))
        self.elements.append(f'<polyline class="{kind}" points="{told}"/>')

    def area(self, points: Iterable[tuple[float, float]], kind: str) -> None:
        """A filled band."""
        told = " ".join(f"{plain(x)},{plain(y)}" for x, y in (self.at(*point) for point in points))
        self.elements.append(f'<polygon class="{kind}" points="{told}"/>')

    def dot(self, x: float, y: float, kind: str = "dot", size: float = 3.5) -> None:
        """A point; one that stands out is a diamond, so that colour alone says nothing."""
        a, b = self.at(x, y)
        if kind == "out":
            told = f"M{plain(a)} {plain(b - 7)}l7 7l-7 7l-7-7z"
            self.elements.append(f'<path class="out" d="{told}"/>')
        else:
            self.elements.append(
                f'<circle class="{kind}" cx="{plain(a)}" cy="{plain(b)}" r="{size}"/>'
            )

    def bar(self, x: tuple[float, float], y: tuple[float, float], kind: str = "pillar") -> None:
        """A rectangle between two points of the axes."""
        left, bottom = self.at(x[0], y[0])
        right, top = self.at(x[1], y[1])
        self.elements.append(
            f'<rect class="{kind}" x="{plain(left)}" y="{plain(top)}" '
            f'width="{plain(max(0.0, right - left))}" height="{plain(max(0.0, bottom - top))}"/>'
        )

    def goes_on(self, x: float, y: float) -> None:
        """A tip at the right edge: what is shown goes on beyond the axis."""
        a, b = self.at(x, y)
        self.elements.append(f'<path class="tip" d="M{plain(a)} {plain(b - 5)}l8 5l-8 5z"/>')

    def label(
        self, x: float, y: float, words: str, *, above: bool = True, left: bool = False
    ) -> None:
        """Words beside a point of the axes; to its left where asked or near the right edge."""
        a, b = self.at(x, y)
        right = left or a > WIDTH - 130
        self.text(a - 9 if right else a + 9, b - 6 if above else b + 14,
                  words, "end" if right else "start", "label")  # fmt: skip

    def figure(self, note: str = "") -> Figure:
        """The finished figure, with what must be said under it."""
        ids = f"{self.name}-title", f"{self.name}-words"
        body = "\n".join(self.elements)
        svg = (
            f'<svg xmlns="http://www.w3.org/2000/svg" class="plot" viewBox="0 0 {WIDTH} '
            f'{self.height}" role="img" aria-labelledby="{ids[0]} {ids[1]}">\n'
            f'<title id="{ids[0]}">{escape(self.title)}</title>\n'
            f'<desc id="{ids[1]}">{escape(self.description)}</desc>\n{body}\n</svg>'
        )
        return Figure(self.name, self.title, svg, note)
