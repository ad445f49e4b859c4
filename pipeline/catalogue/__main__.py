"""Writes the page docs/measures.md to standard output: python -m latewood.pipeline.catalogue > docs/measures.md."""

import sys

from latewood.pipeline.catalogue.document import catalogue_markdown
from latewood.pipeline.catalogue.load import load_catalogue

if __name__ == "__main__":
    sys.stdout.write(catalogue_markdown(load_catalogue()))
