"""Every kind of mistake: the key it is at, what was found, what is allowed, what was probably meant."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest_types import Changing, Finding, Reading

from ridefront.errors import StudyError
from ridefront.study import read_study
