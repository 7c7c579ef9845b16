"""Folders that come with the program: catalogues and scenarios."""

from __future__ import annotations

from pathlib import Path

import optimiser

__all__ = ["shipped_folder"]


def shipped_folder(name: str) -> Path:
    """Return the folder "catalogues" or "scenarios" that came with the program.

    Parameters
    ----------
    name : str
        Name of the folder.

    Returns
    -------
    Path
        The folder inside the installed package or, in a checkout, beside it.
    """
    package = Path(optimiser.__file__).resolve().parent
    installed = package / "_data" / name
    return installed if installed.is_dir() else package.parent / name
