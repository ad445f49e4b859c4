"""Reads of the published warehouse about several camps together."""

from __future__ import annotations

from latewood.dashboard.reads import rows, warehouse
from latewood.pipeline.stats import results


def spreads(build: rows.Build) -> tuple[results.CampSpread, ...]:
    """How much the camps of the program truly differ, per line."""
    return warehouse.read_rows(build, "camp_spreads", results.CampSpread)


def pairs(build: rows.Build) -> tuple[results.CampPair, ...]:
    """Every pair of camps, per line; only pairs of camps that the viewer may both see."""
    return warehouse.read_rows(build, "camp_pairs", results.CampPair)


def link_spreads(build: rows.Build) -> tuple[results.LinkSpread, ...]:
    """What goes with added mass in the mean over camps, and how much camps differ in it, per line."""
    return warehouse.read_rows(build, "link_spreads", results.LinkSpread)


def staggered_links(build: rows.Build) -> tuple[results.StaggeredLink, ...]:
    """What goes with added mass free of time, of camps whose plan starts were drawn."""
    return warehouse.read_rows(build, "staggered_links", results.StaggeredLink)
