"""What keeps a page with a script to itself: its policy, and data that cannot end its element."""

import base64
import hashlib
import json


def policy(script: str, style: str, worklet=False) -> str:
    """Policy and look for a page's head; the hash is that of the one script that may run, with
    `worklet` also one that this script hands over as a data address (there is no other way in)."""
    known = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode("ascii")
    more = " data:; worker-src data:" if worklet else ""
    rules = (
        f"default-src 'none'; img-src data:; media-src data:; style-src 'unsafe-inline'; "
        f"script-src 'sha256-{known}'{more}; base-uri 'none'; form-action 'none'"
    )
    return (
        f'<meta http-equiv="Content-Security-Policy" content="{rules}">\n<style>{style}</style>\n'
    )


def script_json(data) -> str:
    """JSON that cannot end the element it stands in."""
    text = json.dumps(data, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")
