"""python -m lipmodel"""

import sys

from lipmodel.cli import main

if __name__ == "__main__":
    sys.exit(main())
