"""`python -m checker`."""

import sys
from pathlib import Path

# A folder of downloaded packs must not lend its modules to the checker.
_IS_HERE = bool(sys.path) and sys.path[0] in ("", str(Path.cwd()))
if _IS_HERE and not sys.flags.safe_path and not (Path.cwd() / "checker" / "__main__.py").is_file():
    del sys.path[0]

from checker.cli import command  # noqa: E402 - the guard above comes first

if __name__ == "__main__":
    command()
