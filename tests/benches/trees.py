"""Jobs that are nearly trees, of any size: supplies feed strips, strips feed controllers, controllers have sensors,
switches and lamps. Some controllers are joined by a bus, and some are fed by way of a pair of splices.

    python trees.py DEVICES [SEED]
"""

import random
import sys

COLOURS = ("red", "black", "blue", "white")


class Tree:
    def __init__(self, devices: int, seed: int) -> None:
        self.dice = random.Random(seed)
        self.wanted = devices
        self.devices: list[str] = []
        self.cables: list[str] = []

    def full(self) -> bool:
        return len(self.devices) >= self.wanted

    def device(self, letter: str, terminals: list[str]) -> str:
        name = f"{letter}{len(self.devices) + 1}"
        kind = f"terminals: [{', '.join(terminals)}]" if terminals else "type: splice"
        self.devices.append(f"  {name}: {{{kind}}}")
        return name

    def cable(self, *cores: tuple[str, str]) -> None:
        written = ", ".join(f"{colour}: [{a}, {b}]" for colour, (a, b) in zip(COLOURS, cores))
        self.cables.append(f"  W{len(self.cables) + 1}: {{length: 5 m, cores: {{{written}}}}}")

    def grow(self) -> None:
        before, bus = None, None
        while not self.full():
            supply = self.device("G", ["1+", "1-", "2+", "2-"] if before is None else ["L+", "L-", "1+", "1-", "2+", "2-"])
            if before is not None:
                self.cable((f"{before}.2+", f"{supply}.L+"), (f"{before}.2-", f"{supply}.L-"))
            before = supply
            feed = (f"{supply}.1+", f"{supply}.1-")
            # So many strips, each fed by the one before it.
            for _ in range(self.dice.randint(2, 6)):
                if self.full():
                    return
                ways = self.dice.randint(3, 9)
                names = [f"{way}{pole}" for way in range(ways + 1) for pole in "+-"]
                strip = self.device("X", names)
                self.cable((feed[0], f"{strip}.0+"), (feed[1], f"{strip}.0-"))
                for way in range(1, ways):
                    bus = self.branch((f"{strip}.{way}+", f"{strip}.{way}-"), bus)
                feed = (f"{strip}.{ways}+", f"{strip}.{ways}-")

    def branch(self, feed: tuple[str, str], bus: str | None) -> str | None:
        """A controller on a way of a strip, or some on a pair of splices; gives the last controller with a free bus."""
        if self.full():
            return bus
        if self.dice.random() < 0.2 and self.wanted - len(self.devices) > 8:
            plus, minus = self.device("J", []), self.device("J", [])
            self.cable((feed[0], plus), (feed[1], minus))
            for _ in range(self.dice.randint(2, 3)):
                if not self.full():
                    bus = self.controller((plus, minus), bus)
            return bus
        return self.controller(feed, bus)

    def controller(self, feed: tuple[str, str], bus: str | None) -> str | None:
        inputs, outputs = self.dice.randint(1, 4), self.dice.randint(1, 3)
        terminals = ["V+", "0V", *(f"I{n}" for n in range(inputs)), "A", "B"]
        terminals += [f"{pole}{n}" for n in range(outputs) for pole in ("Q", "C")]
        name = self.device("K", terminals)
        self.cable((feed[0], f"{name}.V+"), (feed[1], f"{name}.0V"))
        if bus is not None and self.dice.random() < 0.5:
            self.cable((f"{bus}.A", f"{name}.A"), (f"{bus}.B", f"{name}.B"))
            free = None
        else:
            free = name
        for n in range(inputs):
            if self.full():
                return free
            if self.dice.random() < 0.5:
                sensor = self.device("B", ["BN", "BU", "BK"])
                self.cable((f"{name}.V+", f"{sensor}.BN"), (f"{name}.0V", f"{sensor}.BU"), (f"{name}.I{n}", f"{sensor}.BK"))
            else:
                switch = self.device("S", ["1", "2"])
                self.cable((f"{name}.V+", f"{switch}.1"), (f"{name}.I{n}", f"{switch}.2"))
        for n in range(outputs):
            if self.full():
                return free
            lamp = self.device("H", ["1", "2"])
            self.cable((f"{name}.Q{n}", f"{lamp}.1"), (f"{name}.C{n}", f"{lamp}.2"))
        return free


def job(devices: int, seed: int = 1) -> str:
    """The job file."""
    tree = Tree(devices, seed)
    tree.grow()
    return "\n".join(("job: {title: a tree}", "devices:", *tree.devices, "cables:", *tree.cables)) + "\n"


if __name__ == "__main__":
    print(job(*map(int, sys.argv[1:])), end="")
