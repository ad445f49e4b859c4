"""Whether Spark can be tried on this machine, said plainly where it cannot."""

from __future__ import annotations

import importlib.util
import os

import pytest

from latewood.pipeline.warehouse.spark_engine import java_path

NO_SPARK = "no pyspark, or no Java, on this machine; install them with: pip install 'latewood[spark]' and sh .ci/java"


def needs_spark() -> pytest.MarkDecorator:
    """Skip without Spark, but never under CI where it can be installed: there a missing one has to fail."""
    there = importlib.util.find_spec("pyspark") is not None and java_path() is not None
    return pytest.mark.skipif(not there and os.environ.get("CI") != "true", reason=NO_SPARK)
