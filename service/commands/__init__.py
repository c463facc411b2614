"""The commands of `sidewise`, one a file, in the order that --help shows them.

A command's file imports at its head only what --help needs; the rest is imported when the command runs.
"""

from service.commands.batch import batch
from service.commands.compare import compare
from service.commands.features import features
from service.commands.plan import plan
from service.commands.quote import quote
from service.commands.reach import reach
from service.commands.report import report
from service.commands.schema import schema
from service.commands.serve import serve

COMMANDS = (features, plan, reach, quote, compare, report, batch, serve, schema)
