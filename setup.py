"""Names of what is installed: the folders pipeline/ and dashboard/ become latewood.pipeline and latewood.dashboard."""

from setuptools import find_packages, setup

OWN = "pipeline.latewood"  # the folder of the package `latewood` itself

setup(
    packages=[
        "latewood",
        *(f"latewood.{name}" for name in find_packages(include=["pipeline*", "dashboard*"], exclude=[OWN])),
    ],
    package_dir={
        "latewood": "pipeline/latewood",
        "latewood.pipeline": "pipeline",
        "latewood.dashboard": "dashboard",
    },
)
