"""Runs the whatstays command as python -m reports."""

from reports.command.main import main

raise SystemExit(main())
