"""Section: what stands behind the intervals: shares, injections left out, likeness, steadiness."""

from dataclasses import replace

from arteriole.indices.index import Index
from arteriole.report.tree import Block, Bullets, Facts, Section, Table
from arteriole.report.words import number
from arteriole.study.result import BeatQuality, Likeness, Result

HEADING = "Behind the intervals"
HEAD = ("Index", "Interval comes from", "With one injection left out", "By onset convention")
CAPTION = "Share of the variance by source; lowest and highest value with one injection left out"
WIDTHS = (0.22, 0.38, 0.28, 0.12)
WITHOUT = "without "
ONSET = "onset convention"  # time zero at the start of the injection, not its mean passage
SMALLEST_SHARE = 0.005  # prints 0 %
#: What the summary shows; the letter shows every index.
MAIN = ("resting_pd_pa", "ffr", "cfr_bolus", "imr", "cfr_continuous", "mrr_continuous")
#: Ratios whose other readings and published windows the summary names as well.
WINDOWED = ("full_cycle_ratio", "diastolic_ratio", "late_diastolic_ratio")


def section(result: Result) -> Section:
    """Return shares and left-out values of every index, then likeness, steadiness and notes."""
    return _section(result, [i for i in result.indices if i.value is not None])


def short(result: Result) -> Section:
    """Return the same for the main indices, with other readings of the ratios, for the terminal."""
    shown = [i for i in result.indices if i.key in MAIN and i.value is not None]
    whole = _section(result, shown)
    others = tuple(
        (f"{i.label} also", readings(i)) for i in result.indices
        if i.key in (*MAIN, *WINDOWED) and i.value is not None and readings(i)
    )  # fmt: skip
    blocks = (*whole.blocks, Facts(rows=others)) if others else whole.blocks
    return replace(whole, blocks=blocks)


def _section(result: Result, shown: list[Index]) -> Section:
    rows = tuple(
        (i.label, shares(i), left_out(i), number(i.alternatives.get(ONSET), i.decimals))
        for i in shown
        if i.shares
    )
    blocks: list[Block] = []
    if rows:
        blocks.append(Table(caption=CAPTION, head=HEAD, rows=rows, widths=WIDTHS))
    facts = [(f"Likeness, {one.phase}", likeness(one)) for one in result.likeness]
    if result.likeness:
        facts.append(("Rule of likeness", result.likeness[0].rule))
    if steadiness(result):
        facts.append(("Pd/Pa on the plateau", steadiness(result)))
    if result.quality is not None and result.quality.beats:
        facts.append(("Beats", beats(result.quality)))
    if result.pa_zero_mmhg is not None:
        facts.append(("Pa open to air", f"reads {number(result.pa_zero_mmhg, 1, 'mmHg')}"))
    if facts:
        blocks.append(Facts(rows=tuple(facts)))
    notes = tuple(f"{i.label}: {i.note}" for i in shown if i.note)
    if notes:
        blocks.append(Bullets(rows=notes))
    return Section(key="behind", heading=HEADING, blocks=tuple(blocks), page=2)


def shares(one: Index) -> str:
    """Return the sources of the interval, the largest first."""
    rows = sorted(one.shares.items(), key=lambda kv: -kv[1])
    told = (f"{name} {number(100 * share, 0)} %" for name, share in rows if share >= SMALLEST_SHARE)
    return ", ".join(told) or "—"


def left_out(one: Index) -> str:
    """Return the lowest and the highest value that leaving one injection out gives."""
    rows = {
        k.removeprefix(WITHOUT): v for k, v in one.alternatives.items() if k.startswith(WITHOUT)
    }
    if not rows:
        return "—"
    low, high = min(rows, key=rows.__getitem__), max(rows, key=rows.__getitem__)
    first, last = (number(rows[k], one.decimals) for k in (low, high))
    return f"{first} (without {low}) to {last} (without {high})"


def readings(one: Index) -> str:
    """Return the other readings and sensitivities of an index, injections left out apart."""
    rows = {
        k: v for k, v in one.alternatives.items() if not k.startswith(WITHOUT) and k != ONSET
    }  # fmt: skip
    return "; ".join(f"{k}: {number(v, one.decimals)}" for k, v in rows.items())


def likeness(one: Likeness) -> str:
    """Return how alike the injections of one state are, in words."""
    said = f"{one.used} of {one.read} used"
    if one.median_s is not None:
        said += f", median {number(one.median_s, 2, 's')}"
    if one.range_percent is not None:
        said += f", range {number(one.range_percent, 0)} % of it"
    if one.farthest is not None:
        said += f"; farthest {one.farthest}, {number(one.farthest_percent, 0)} %"
    return said


def beats(quality: BeatQuality) -> str:
    """Return how many beats are used for pressures, and what is held against the others."""
    causes = sorted(quality.causes.items(), key=lambda kv: (-kv[1], kv[0]))
    held = ", ".join(f"{n} {code.replace('_', ' ')}" for code, n in causes)
    said = f"{quality.used} of {quality.beats} used for pressures"
    return f"{said}; held against beats: {held}" if held else said


def steadiness(result: Result) -> str:
    """Return the published measures of a steady plateau, or nothing where there is none."""
    seen = result.hyperaemia
    if seen.range_ratio is None or seen.dispersion_percent is None:
        return ""
    waves = "" if seen.wave_s is None else f"; in waves of about {number(seen.wave_s, 0)} s"
    return (
        f"range {number(seen.range_ratio)}, coefficient of dispersion "
        f"{number(seen.dispersion_percent, 1)} % [HyperaemiaSwing2016]{waves}"
    )
