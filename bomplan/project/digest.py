"""One fingerprint for what a project says, however it was written."""

from __future__ import annotations

import hashlib
import json

from bomplan.project.records import Project


def project_digest(project: Project) -> str:
    """SHA-256 (hex) of the parsed project as canonical JSON.

    Line ends, comments, key order and the units chosen do not matter; every figure does.
    """
    text = json.dumps(
        project.model_dump(mode="json"), sort_keys=True, separators=(",", ":"), allow_nan=False
    )
    return hashlib.sha256(text.encode("ascii")).hexdigest()
