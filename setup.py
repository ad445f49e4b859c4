"""Names of what is installed: the folders pipeline/ and dashboard/ become latewood.pipeline and latewood.dashboard.

seed_data/ and docs/ go along as data beside them, so that both stand where they stand in the project's folder.
"""

from setuptools import find_packages, setup

OWN = "pipeline.latewood"  # the folder of the package `latewood` itself

setup(
    packages=[
        "latewood",
        "latewood.seed_data",
        "latewood.docs",
        *(f"latewood.{name}" for name in find_packages(include=["pipeline*", "dashboard*"], exclude=[OWN])),
    ],
    package_dir={
        "latewood": "pipeline/latewood",
        "latewood.pipeline": "pipeline",
        "latewood.dashboard": "dashboard",
        "latewood.seed_data": "seed_data",
        "latewood.docs": "docs",
    },
)
