"""The web application: one file = one page; thin: parse, call, render."""

from arteriole.web.app import create_app
from arteriole.web.demo import open_demo
from arteriole.web.guard import Keys

__all__ = ["Keys", "create_app", "open_demo"]
