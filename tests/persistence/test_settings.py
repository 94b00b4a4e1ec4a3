"""The service's settings come from the environment, once."""

from dataclasses import FrozenInstanceError
from ipaddress import ip_network
from pathlib import Path

import pytest

from service.settings import Settings, SettingWrong, settings_from


def test_an_empty_environment_gives_an_embedded_database_on_port_8765():
    settings = settings_from({"SEAMCOST_PORT": "", "HOME": "/"})
    assert settings == Settings()
    assert (settings.database_url, settings.port, settings.test_mode) == ("sqlite:///seamcost.db", 8765, False)


def test_every_variable_is_read():
    assert settings_from({
        "SEAMCOST_DATABASE_URL": "postgresql://host/kitchen", "SEAMCOST_HOST": "0.0.0.0", "SEAMCOST_PORT": "80",
        "SEAMCOST_WORKERS": "4", "SEAMCOST_THREADS": "64", "SEAMCOST_REQUESTS_PER_MINUTE": "600",
        "SEAMCOST_TEST_MODE": "1", "SEAMCOST_CLOCK_FILE": "/t/c",
        "SEAMCOST_WEBHOOK_NETWORKS": "192.0.2.0/24, 2001:db8::/32,203.0.113.7",
        "SEAMCOST_DATABASE_CONNECTIONS": "12",
    }) == Settings("postgresql://host/kitchen", "0.0.0.0", 80, 4, 64, 600, True, Path("/t/c"),
                   tuple(map(ip_network, ("192.0.2.0/24", "2001:db8::/32", "203.0.113.7/32"))), None, 12)


@pytest.mark.parametrize(("name", "value"), [
    ("SEAMCOST_PORT", "http"), ("SEAMCOST_PORT", "65536"), ("SEAMCOST_PORT", "-1"), ("SEAMCOST_PORT", "\u0663"),
    ("SEAMCOST_WORKERS", "0"), ("SEAMCOST_THREADS", "1e2"), ("SEAMCOST_DATABASE_CONNECTIONS", "3"),
    ("SEAMCOST_TEST_MODE", "yes"),
    ("SEAMCOST_WEBHOOK_NETWORKS", "192.0.2.1/24"), ("SEAMCOST_WEBHOOK_NETWORKS", "localhost"),
    ("SEAMCOST_WEBHOOK_NETWORKS", "192.0.2.0/24;203.0.113.0/24"), ("SEAMCOST_WEBHOOK_NETWORKS", "192.0.2.0/33")])
def test_a_wrong_value_is_named(name, value):
    with pytest.raises(SettingWrong, match=name):
        settings_from({name: value})


def test_settings_are_frozen():
    with pytest.raises(FrozenInstanceError):
        Settings().port = 1
