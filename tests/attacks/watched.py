"""What the keeper watches, and what may not keep it busy for ever, at real-time priority."""

from __future__ import annotations

from lines.keeper import RealKeeper
from lines.lost_feet import PROGRAM
from served import Served, of_bench

from attacks import Ground, attack
from timerd.bench.pretended import FEET, PretendedFoot


@attack("15.15", "a plain file where the pipe of the simulated feet should be")
def no_pipe(ground: Ground) -> str:
    served = Served(ground.folder)
    try:
        served.start()
        served.stop()
        feet = served.run / FEET
        feet.unlink()
        feet.touch()
        said = ""
        try:
            served.start()
        except RuntimeError as error:
            said = str(error)
        assert said.endswith("is no named pipe, so that no foot comes through it: remove it"), said
        assert of_bench(served.memory) == [], "a keeper goes on"
        feet.unlink()
        served.start()
        assert served.stop() == ""
    finally:
        served.close()
    return "refused in words, no keeper is left; without the file it serves"


@attack("15.15", "feet that end, that babble, and that cannot be read, while a light burns")
def lost_feet(ground: Ground) -> str:
    told = []
    for how in ("ends", "babbles", "unreadable"):
        run = ground.folder / how
        run.mkdir()
        with RealKeeper(run, program=PROGRAM, environment={"LOST": how}) as keeper:
            foot = PretendedFoot(run)
            keeper.expose(seconds=20.0)
            keeper.until("lit")
            if how != "ends":
                foot.put("go", how == "unreadable")
            foot.close()
            why = keeper.until("unplugged")["why"]
            assert [edge.lit for edge in keeper.truth() if edge.line.startswith("lamp")] == [True, False]
            told.append(f"'{why}'")
    return f"dark each time, and told: {', '.join(told)}"
