"""The files that come with the service are found, in a checkout and in an installed wheel alike."""

import pytest

from service import shipped_files
from service.shipped_files import shipped_folder


def test_in_a_checkout_they_lie_at_its_top():
    assert (shipped_folder("migrations") / "env.py").is_file()


def test_in_a_wheel_they_lie_under_the_package(tmp_path, monkeypatch):
    package = tmp_path / "site-packages" / "service"
    (package / "_shipped" / "migrations").mkdir(parents=True)
    (package.parent / "migrations").mkdir()
    monkeypatch.setattr(shipped_files, "_PACKAGE", package)
    assert shipped_folder("migrations") == package / "_shipped" / "migrations"


def test_what_is_nowhere_is_told():
    with pytest.raises(FileNotFoundError, match="recipes-of-the-chef"):
        shipped_folder("recipes-of-the-chef")
