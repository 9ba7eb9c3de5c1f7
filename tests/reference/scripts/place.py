"""Where the scripts read and write: the folder above this one, or for writing the folder named on the command line."""
import sys
from pathlib import Path

REFERENCE = Path(__file__).resolve().parent.parent
OUT = Path(sys.argv[1]) if len(sys.argv) > 1 else REFERENCE
