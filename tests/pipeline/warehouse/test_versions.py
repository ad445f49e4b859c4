"""A warehouse of another version is refused in plain words, and the next build corrects it."""

from __future__ import annotations

import duckdb
import pytest

from latewood.pipeline.errors import BuildError
from latewood.pipeline.ingest.build.run import build
from latewood.pipeline.warehouse.connection import open_published, published_path
from latewood.pipeline.warehouse.versions import SCHEMA_VERSION
from tests.conftest import Camp


@pytest.mark.parametrize(
    ("version", "words"), [(SCHEMA_VERSION + 1, "newer Latewood"), (0, "older Latewood")]
)
def test_a_warehouse_of_another_version_is_refused_until_it_is_built_again(
    camp: Camp, version: int, words: str
) -> None:
    build(camp.root)
    with duckdb.connect(str(published_path(camp.root))) as connection:
        columns = [row[0] for row in connection.execute("describe warehouse_version").fetchall()]
        connection.execute(f"update warehouse_version set {columns[0]} = {version}")
    with pytest.raises(BuildError, match=words):
        open_published(camp.root)
    assert not build(camp.root).unchanged
    open_published(camp.root).close()
