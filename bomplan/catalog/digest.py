"""The fingerprint of a catalogue's content."""

from __future__ import annotations

import hashlib
import json

from bomplan.catalog.records import Catalog


def catalog_digest(catalog: Catalog) -> str:
    """SHA-256 (hexadecimal) over the parsed content.

    Two catalogues that say the same have the same digest: order of files, rows and columns,
    line ends, delimiter, decimal comma and trailing zeros do not matter; every figure,
    price and text does.
    """
    content = catalog.model_dump(exclude={"name", "digest", "notes"})
    for table in ("pairs", "curves", "temperatures", "offers"):
        content[table] = sorted(json.dumps(row, sort_keys=True) for row in content[table])
    text = json.dumps(content, sort_keys=True, ensure_ascii=True, allow_nan=False)
    return hashlib.sha256(text.encode("ascii")).hexdigest()
