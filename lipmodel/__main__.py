"""python -m lipmodel"""

import sys

from lipmodel.commands.main import main

if __name__ == "__main__":
    sys.exit(main())
