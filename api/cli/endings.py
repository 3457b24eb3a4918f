"""How commands end, for scripts that ask: every command alike."""

DONE = 0
"""Found or done."""
NOTHING = 1
"""Nothing found, something that isn't as it should be, or refused with a sentence."""
USAGE = 2
"""The command or its options can't be understood."""
MISTAKE = 70
"""A mistake in the program (EX_SOFTWARE of sysexits.h)."""
STOPPED = 130
"""Stopped by hand, as shells count it: 128 and the signal's number."""
