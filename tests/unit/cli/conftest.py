"""No test of the command line sees the settings of whoever runs it."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def settings_folder(
    tmp_path_factory: pytest.TempPathFactory, monkeypatch: pytest.MonkeyPatch
) -> Path:
    """An empty folder for the user's own settings."""
    folder = tmp_path_factory.mktemp("settings")
    monkeypatch.setenv("BOMPLAN_CONFIG_DIR", str(folder))
    monkeypatch.delenv("NO_COLOR", raising=False)
    return folder
