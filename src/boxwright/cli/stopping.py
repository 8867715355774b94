"""A stop (Ctrl-C) that takes effect once, whatever the program is doing when it comes."""

from __future__ import annotations

import _thread
import signal
import sys
import threading

__all__ = ["came_of_a_stop", "insist"]


def insist() -> None:
    """From now on, stop again where a stop fell into code that cannot pass it on: a compiler's callback, say."""
    sys.unraisablehook = _lost


def came_of_a_stop(error: BaseException | None) -> bool:
    """Whether a stop is behind an error: one that fell into the loading of a compiled module looks like its failure."""
    while error is not None:
        if isinstance(error, KeyboardInterrupt):
            return True
        error = error.__cause__ or error.__context__
    return False


def _lost(lost: sys.UnraisableHookArgs) -> None:
    if issubclass(lost.exc_type, KeyboardInterrupt):
        # a moment later and from elsewhere: here it would be lost again
        again = threading.Timer(0.02, _interrupt)
        again.daemon = True
        again.start()
    else:
        sys.__unraisablehook__(lost)


def _interrupt() -> None:
    """Stop the main thread, even where it sleeps."""
    main_thread = threading.main_thread().ident
    if hasattr(signal, "pthread_kill") and main_thread is not None:
        signal.pthread_kill(main_thread, signal.SIGINT)
    else:
        _thread.interrupt_main()
