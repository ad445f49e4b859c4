"""Reads of the published warehouse about several camps together; of pairs of camps only those the viewer sees both."""

from __future__ import annotations

from latewood.dashboard.reads.read import Read
from latewood.pipeline.stats import results

spreads = Read(row=results.CampSpread, kind="program", order="measure, line")
pairs = Read(row=results.CampPair, kind="cohort", order="measure, line, camp_id, other_id")
link_spreads = Read(row=results.LinkSpread, kind="program", order="measure, line")
staggered_links = Read(row=results.StaggeredLink, kind="cohort", order="measure, line, camp_id")
