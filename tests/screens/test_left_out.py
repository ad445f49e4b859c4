"""A fit without an answer, in a build of a small camp: everything else is published, and the Data screen says so."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from latewood.pipeline.stats.change.trend import trends
from latewood.pipeline.warehouse import separate
from tests.access.looking import everything
from tests.conftest import small_camp
from tests.end_to_end.test_build import season
from tests.screens.conftest import Open


def test_a_line_that_cannot_be_fitted_stops_nothing_else_and_is_said_on_data(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, open_screen: Open
) -> None:
    def without_exit_speed(part: pd.DataFrame, *others, **named):
        if (part["measure"] == "exit_speed").any():
            raise np.linalg.LinAlgError("Singular matrix")
        return trends(part, *others, **named)

    monkeypatch.setattr(separate, "trends", without_exit_speed)
    camp = small_camp(tmp_path)
    throws = season().replace("exit_speed", "throw_speed").split("\n", 1)[1]
    camp.take("season.csv", season() + throws)
    assert camp.rows("select measure, reason from not_computed") == [
        ("exit_speed", "could not be computed: the numbers allow no answer (singular matrix)")
    ]
    assert camp.rows("select count(*) from trend where measure = 'exit_speed'") == [(0,)]
    assert camp.rows("select count(*) > 0 from reading where measure = 'exit_speed'") == [(True,)]
    assert camp.rows("select count(*) > 0 from trend where measure = 'throw_speed'") == [(True,)]
    assert camp.rows("select count(*) > 0 from mass_trend") == [(True,)]
    page = open_screen(camp.root, "data")
    assert "could not be computed" in everything(page)
