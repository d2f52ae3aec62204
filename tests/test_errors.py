"""Words of errors that come from the system."""

from __future__ import annotations

import errno
import os

import pytest

from locosim.errors import system_reason


@pytest.mark.parametrize(
    ("error", "reason"),
    [
        (OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "out.csv"), "no space left on device"),
        (OSError("The Disk is gone"), "the disk is gone"),
        (ValueError("embedded null byte"), "embedded null byte"),
        (OSError(), "no reason given"),
    ],
)
def test_the_reason_of_the_system_ends_a_message(error: OSError | ValueError, reason: str) -> None:
    assert system_reason(error) == reason
