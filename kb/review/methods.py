"""The methods of the review: what each asks, how it is worked out, from where, what it shows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from kb.review.figures import places, rows, times
from kb.review.figures.canvas import Figure
from kb.review.sections import Review
from kb.review.tables import compared, other
from kb.review.tables.table import Table


@dataclass(frozen=True)
class Method:
    """One method: an id for addresses, the question it answers, how, and the formula's source."""

    id: str
    title: str
    asks: str
    how: str
    source: str
    tables: Callable[[Review], Iterator[Table]]
    figures: Sequence[Callable[[Review], Figure | None]] = ()

    def drawn(self, review: Review) -> list[Figure]:
        """Its figures, where there is something to draw."""
        return [figure for draw in self.figures if (figure := draw(review)) is not None]


METHODS = (
    Method(
        "totals",
        "Totals",
        "How many cases were there, about what, when and where?",
        "A case that was marked as the same case as another enters no count. A fault is a case "
        "that did something to voting or to a device; where the effect is not known it counts "
        "as one. What is not known is a group of its own.",
        "Common practice.",
        compared.totals,
    ),
    Method(
        "rates",
        "Rates",
        "How many faults for so many ballots, and for so many devices?",
        "Faults per 1,000 ballots at places whose ballots are known; faults per 100 deployed "
        "devices. The limits are exact for a count that varies by chance alone. Under five faults "
        "a rate is too uncertain to compare. Report rate is not fault rate: a place that reports "
        "well looks worse.",
        "Garwood, F. (1936), Fiducial limits for the Poisson distribution, Biometrika 28, 437-442.",
        compared.rates,
        (rows.rates, rows.devices),
    ),
    Method(
        "funnel",
        "Places compared",
        "Which place had more faults than chance explains?",
        "A small place with one fault has a high rate by chance. The funnel shows how far a rate "
        "may lie from that of all places at each number of ballots; places also differ for other "
        "reasons, so the limits are those of a gamma-Poisson distribution fitted to all of them. "
        "The likely rate draws each place towards the others by as much as its own number is "
        "uncertain. Four kinds of limits are in the files.",
        "Spiegelhalter, D. J. (2005), Funnel plots for comparing institutional performance, "
        "Statistics in Medicine 24, 1185-1202. Clayton, D. and Kaldor, J. (1987), Biometrics 43, "
        "671-681. Marshall, R. J. (1991), Applied Statistics 40, 283-294.",
        compared.places,
        (places.funnel,),
    ),
    Method(
        "chart",
        "Control chart",
        "Is the spread of the places' rates that of a process under control?",
        "The u chart takes chance alone; Laney's u′ chart widens or narrows its limits by the mean "
        "moving range between neighbours. Both are too narrow for tiny places, so what lies above "
        "is looked at in the funnel before anything is said of it.",
        "NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3. Laney, D. B. (2002), Improved "
        "control charts for attributes, Quality Engineering 14, 531-537.",
        compared.chart,
        (places.chart,),
    ),
    Method(
        "restore",
        "Minutes to restore",
        "How long did faults last, and where longest?",
        "From the start (where it is not known, from the report) until it worked again. A fault "
        "that never did counts as long as it was seen, until the cut-off. Zones are compared by "
        "the log-rank test. Starts are often estimates of the caller.",
        "Kaplan, E. L. and Meier, P. (1958), JASA 53, 457-481. Greenwood, M. (1926). Mantel, N. "
        "and Haenszel, W. (1959), log-rank test.",
        compared.restore,
        (times.restored,),
    ),
    Method(
        "time-lost",
        "Voting time lost",
        "How many minutes of voting were lost?",
        "Faults that stopped voting at a place, within its scheduled hours; what overlaps counts "
        "once. The same for each class of device, and for accessible voting: minutes in which a "
        "voter could not vote alone and in private, as far as anybody reported it.",
        "Common practice.",
        compared.time_lost,
    ),
    Method(
        "kinds",
        "Kinds of fault",
        "Which kinds make up most of the trouble?",
        "Equipment and symptom together, by number and by minutes. Often the two differ: what is "
        "frequent is not what costs most time.",
        "Pareto chart; common practice.",
        compared.pareto,
        (rows.kinds,),
    ),
    Method(
        "misfeeds",
        "Misfeeds",
        "Does a scanner model misfeed more than one sheet in 500?",
        "Jams, several sheets at once and good ballots given back share one count, over the sheets "
        "of the place, shared equally by its scanners. Exact one-sided test. Above the benchmark "
        "reads: worth a service check; not a certification finding.",
        "Voluntary Voting System Guidelines 2.0, requirement 1.2-G. Clopper, C. J. and Pearson, "
        "E. S. (1934), Biometrika 26, 404-413.",
        other.misfeeds,
        (rows.misfeeds,),
    ),
    Method(
        "shared",
        "What failing devices share",
        "Do devices of one batch, model or zone fail more often?",
        "For each value at least five devices have: how many of them had a fault, beside the rest "
        "of the class. Exact one-sided test, adjusted for all values of the election together.",
        "Fisher, R. A. (1922), JRSS 85, 87-94. Benjamini, Y. and Hochberg, Y. (1995), JRSS B 57, "
        "289-300.",
        other.shared,
    ),
    Method(
        "alarms",
        "The same fault at once",
        "When did the same fault show up at several places within an hour?",
        "Reports of one kind from at least three places within 60 minutes, against the usual "
        "number an hour in earlier elections, higher at busy times of the day. The day itself "
        "warns more strictly, allowing for all its looks.",
        "Poisson tail; common practice.",
        other.alarms,
    ),
    Method(
        "before-after",
        "Before and after",
        "Did a class of equipment do better than last time?",
        "Faults at the places that hold the class and took voters both times, over check-ins for "
        "poll books, ballots otherwise. Exact, given both counts together.",
        "Clopper, C. J. and Pearson, E. S. (1934), Biometrika 26, 404-413.",
        other.before_after,
        (rows.ratios,),
    ),
    Method(
        "hotline",
        "The hotline",
        "Were there people enough at the phones?",
        "Calls by half hour and the share answered within 20 seconds, callers who gave up "
        "included. Seats needed so that 80 % would be, by the formula for waiting lines, which "
        "takes it that nobody gives up. Surely under 80 %: where even the upper 95 % limit is.",
        "Erlang, A. K. (1917). Clopper and Pearson (1934).",
        other.hotline,
        (times.calls,),
    ),
    Method(
        "spares",
        "Spares",
        "Were there spares enough, and how many will be?",
        "Devices that were swapped, taken out of use or worked around until the close. If each "
        "fails with the same chance next time, so many spares are enough on 95 or 99 of 100 days. "
        "A common store needs fewer than each zone its own.",
        "Binomial quantile.",
        other.spares,
    ),
    Method(
        "recurrence",
        "What came back",
        "Which device had the same fault before?",
        "The same asset and symptom in this election and an earlier one, or twice on the day.",
        "Common practice.",
        other.recurrence,
    ),
    Method(
        "training",
        "Training needs",
        "What was asked by phone that workers could have known, and where most?",
        "Cases fixed by phone or not about equipment, by phase and zone, per 100 calls of the "
        "zone, against the other zones; the articles that answered, and those after which the "
        "same place called again within 30 minutes.",
        "Exact ratio of rates; Benjamini and Hochberg (1995).",
        other.training,
    ),
    Method(
        "custody",
        "Custody",
        "Is every opening of a compartment on record with witnesses, closing and seal?",
        "For each opening: two different witnesses up to its closing, a closing, and a seal put on "
        "there afterwards. By the time it happened, not the time it came in.",
        "Common practice; county procedure decides.",
        other.custody,
    ),
    Method(
        "record",
        "The record itself",
        "What does the record lack?",
        "Fields that should be known, times that cannot be, cases that never ended, pairs that may "
        "be one case, places without turnout, places that opened late. Nothing is mended by "
        "itself.",
        "Common practice.",
        other.record,
    ),
)
BY_ID = {method.id: method for method in METHODS}
