"""From an eye to figures, margins, verdicts and findings."""
