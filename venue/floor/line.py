"""A waiting line: first come first served, left when patience runs out."""

from __future__ import annotations

from collections import deque

import simpy

from venue.visitors.visit import Visit


class Ticket:
    """A place in a waiting line; `reason` is why it came to nothing, if it did."""

    __slots__ = ("called", "joined", "reason", "visit", "waiting")

    def __init__(self, visit: Visit, env: simpy.Environment) -> None:
        self.visit = visit
        self.joined: float = env.now
        self.called: simpy.Event = env.event()
        self.reason = "waited too long"
        self.waiting = True


class WaitingLine:
    """People who wait.

    Attributes
    ----------
    waiting
        How many.
    joined
        How many have joined the line so far.
    length_time
        The length of the line, summed over the time up to its last change, in person-seconds.
    waited
        The waits of those who are out of the line again, each by its own ticket, in seconds. When nobody waits this and
        `length_time` are one number, reached by two routes.
    """

    __slots__ = ("_changed", "_line", "env", "joined", "length_time", "waited", "waiting")

    def __init__(self, env: simpy.Environment) -> None:
        self.env = env
        self.waiting = self.joined = 0
        self.length_time = self.waited = 0.0
        self._changed = 0.0
        self._line: deque[Ticket] = deque()

    def join_line(self, visit: Visit, patience: float | None) -> Ticket:
        """Stand in line. The ticket's event brings a cabinet or a seat, None after `patience` seconds or at closing."""
        ticket = Ticket(visit, self.env)
        self._line.append(ticket)
        now = ticket.joined
        self.length_time += self.waiting * (now - self._changed)
        self._changed = now
        self.waiting += 1
        self.joined += 1
        if patience is not None:
            timeout = self.env.timeout(patience)
            callbacks = timeout.callbacks
            if callbacks is not None:
                callbacks.append(lambda _: self.send_away(ticket))
        return ticket

    def send_away(self, ticket: Ticket, reason: str = "waited too long") -> None:
        """Somebody has waited for nothing."""
        if ticket.waiting:
            ticket.reason = reason
            self.call(ticket)
            ticket.called.succeed(None)

    def break_up(self, reason: str) -> None:
        """Send everybody away."""
        while self._line:
            self.send_away(self._line.popleft(), reason)

    def call(self, ticket: Ticket) -> None:
        """Take somebody out of the line."""
        ticket.waiting = False
        now = self.env.now
        self.length_time += self.waiting * (now - self._changed)
        self._changed = now
        self.waiting -= 1
        self.waited += now - ticket.joined

    def in_line(self) -> list[Ticket]:
        """Who waits, in order."""
        return [ticket for ticket in self._line if ticket.waiting]

    def next_in_line(self) -> Ticket | None:
        """Take the first out of the line; None if nobody waits."""
        line = self._line
        while line:
            ticket = line.popleft()
            if ticket.waiting:
                self.call(ticket)
                return ticket
        return None
