"""The WSGI entry point: `app`, with the settings of the environment."""

import os

from service.settings import settings_from
from service.wiring import web_app

app = web_app(settings_from(os.environ))
