"""Train the follower's two nets; needs PyTorch, a GPU if there is one.

    python -m tests.bed.train SHARED OUT.npz [--takes 6000] [--jobs 16] [--seed 1] [--epochs 30]
                              [--split train] [--start-from WEIGHTS.npz]
                              [--keep FOLDER] [--also FOLDER]

`--keep` stores the examples, `--also` adds stored ones.

Deterministic for a seed as far as the device is.  The weights are run by numpy (coach/hear/follow).
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import time
from collections.abc import Sequence
from dataclasses import fields
from pathlib import Path

import numpy as np

from coach.hear.follow.frames import BANDS_HZ, HARMONICS, PITCH_CHANNELS, SOUND_CHANNELS
from coach.hear.follow.inputs import CHANNELS, CONSTANTS, MIDDLE_PITCH, PITCH_CLASSES, SILENT
from coach.hear.follow.net import AHEAD_HOPS, BACK_HOPS, LAYERS, SETTLED
from coach.hear.follow.patch import GRID, LOWEST, STEP, STRETCHES, WIDTH
from tests.bed.examples import WINDOW_HOPS, Examples, examples_of
from tests.bed.takes import training_take

HIDDEN = 112
STRETCH_HIDDEN, MIX_HIDDEN, DEEP_HIDDEN = 64, 192, 96
SPREAD_HOPS = 0.8

_sources = {}


def _start(shared: str, split: str) -> None:
    from tests.bed.takes import Sources

    _sources["all"] = Sources(shared, split)


def _make(seed: int) -> Examples | None:
    rng = np.random.default_rng(seed)
    take = training_take(_sources["all"], rng)
    return examples_of(take, rng) if len(take.truth) else None


def make_examples(
    shared: str, split: str, takes: int, jobs: int, seed: int, most_s: float = 1e9
) -> Examples:
    """Examples of so many takes (fewer if time runs out), made by several processes."""
    began = time.time()
    made = []
    with multiprocessing.get_context("spawn").Pool(jobs, _start, (shared, split)) as pool:
        seeds = range(seed * 1_000_000, seed * 1_000_000 + takes)
        for examples in pool.imap_unordered(_make, seeds, chunksize=8):
            if examples is not None:
                made.append(examples)
            if time.time() - began > most_s:
                break
    examples = joined(made)
    count = len(examples.attack)
    print(f"{count} examples of {len(made)} takes in {time.time() - began:.0f} s", flush=True)
    return examples


def joined(several: Sequence[Examples]) -> Examples:
    """All examples in one."""
    return Examples(
        *(np.concatenate([getattr(e, f.name) for e in several]) for f in fields(Examples))
    )


def keep(examples: Examples, folder: Path) -> None:
    """Store examples, one file a field."""
    folder.mkdir(parents=True, exist_ok=True)
    for f in fields(Examples):
        np.save(folder / f"{f.name}.npy", getattr(examples, f.name))


def kept(folder: Path) -> Examples:
    """Stored examples."""
    return Examples(*(np.load(folder / f"{f.name}.npy") for f in fields(Examples)))


def build(torch):
    """The nets as PyTorch modules, named as numpy runs them."""
    nn = torch.nn

    class Attack(nn.Module):
        def __init__(self):
            super().__init__()
            self.inside = nn.Linear(CHANNELS, HIDDEN)
            self.layers = nn.ModuleList(nn.Linear(HIDDEN * len(o), HIDDEN) for o in LAYERS)
            self.out = nn.Linear(HIDDEN, 2)
            self.none = nn.Linear(2 * HIDDEN, 1)

        def forward(self, x):
            h = torch.relu(self.inside(x))
            for layer, offsets in zip(self.layers, LAYERS, strict=True):
                back, ahead = -offsets[0], offsets[-1]
                count = h.shape[1] - back - ahead
                seen = torch.cat([h[:, back + o : back + o + count] for o in offsets], dim=2)
                h = h[:, back : back + count] + torch.relu(layer(seen))
            return self.out(h), h

        def absent(self, h, low, high):
            """Scores of "not played" over hops low .. high - 1 of each row."""
            hops = torch.arange(h.shape[1], device=h.device)[None, :, None]
            inside = (hops >= low[:, None, None]) & (hops < high[:, None, None])
            mean = (h * inside).sum(1) / inside.sum(1)
            top = torch.where(inside, h, torch.full_like(h, -1e4)).amax(1)
            return self.none(torch.cat([mean, top], dim=1))[:, 0]

    class Note(nn.Module):
        def __init__(self, context):
            super().__init__()
            self.stretch = nn.Linear(WIDTH, STRETCH_HIDDEN)
            self.mix = nn.Linear(STRETCHES * STRETCH_HIDDEN + context, MIX_HIDDEN)
            self.deep = nn.Linear(MIX_HIDDEN, DEEP_HIDDEN)
            self.pitch = nn.Linear(DEEP_HIDDEN, PITCH_CLASSES + 1)
            self.settled = nn.Linear(DEEP_HIDDEN, len(SETTLED))
            self.drop = nn.Dropout(0.15)

        def forward(self, patch, context):
            each = torch.relu(self.stretch(patch)).flatten(1)
            h = torch.relu(self.mix(torch.cat([self.drop(each), context], dim=1)))
            h = torch.relu(self.deep(h))
            return self.pitch(h), self.settled(h)

    return Attack, Note


def epochs_in(fit_s: float, step, some_rows, count: int) -> int:
    """How many epochs fit into so many seconds."""
    for _ in range(10):
        step(some_rows())
    began = time.time()
    for _ in range(20):
        step(some_rows())
    each_s = (time.time() - began) / 20 * (count / len(some_rows()))
    return max(1, int(fit_s / each_s))


def attack_loss(torch, net, inputs, targets, slurred, real):
    """Cross entropy over the hops of a window, cut at random, and "not played"."""
    scores, hidden = net(inputs)
    count = len(inputs)
    device = inputs.device
    low = torch.randint(0, 16, (count,), device=device)
    high = WINDOW_HOPS - torch.randint(0, 16, (count,), device=device)
    absent = net.absent(hidden, low, high)
    hops = torch.arange(WINDOW_HOPS, device=device)
    inside = (hops >= low[:, None]) & (hops < high[:, None])
    total = scores.new_zeros(())
    for head in range(2):
        target = targets[head]
        line = torch.where(inside, scores[:, :, head], torch.full_like(scores[:, :, head], -1e4))
        logs = torch.log_softmax(torch.cat([line, absent[:, None]], dim=1), dim=1)
        played = target >= 0
        seen = played & (target >= low) & (target <= high - 1)
        soft = torch.exp(-0.5 * ((hops[None] - target[:, None]) / SPREAD_HOPS) ** 2) * inside
        soft = soft / soft.sum(1, keepdim=True).clamp(min=1e-9)
        # An attack outside the window is not there to be found.
        losses = torch.where(seen, -(soft * logs[:, :-1]).sum(1), -logs[:, -1])
        weight = (target > -1.5).float() * (1 + real)
        weight = weight * (torch.where(slurred, 0.3, 1.0) if head == 0 else 1.0)
        if head == 1:
            lagging = (targets[0] >= 0) & (target >= 0) & ((target - targets[0]).abs() > 3)
            weight = weight * torch.where(lagging, 4.0, 1.0)
        total = total + (losses * weight).sum() / weight.sum().clamp(min=1)
    return total


def fit(
    torch, examples: Examples, epochs: int, seed: int, start: str | None, fit_s: float | None
) -> dict[str, np.ndarray]:
    """Train both nets, for so many epochs or so many seconds; the weights by name."""
    torch.manual_seed(seed)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    data = {
        f.name: torch.from_numpy(getattr(examples, f.name)).to(device) for f in fields(examples)
    }
    attack_class, note_class = build(torch)
    attack = attack_class().to(device)
    note = note_class(examples.contexts.shape[2]).to(device)
    if start:
        load_weights(torch, start, attack, note)
    parameters = [*attack.parameters(), *note.parameters()]
    optimiser = torch.optim.AdamW(parameters, lr=2e-3, weight_decay=1e-2)
    count, batch = len(examples.attack), 1024

    def step(rows):
        inputs = otherwise_recorded(torch, data["inputs"][rows].float())
        slurred = data["inputs"][rows, 0, slurred_place] > 0.5
        first = attack_loss(
            torch, attack, inputs, (data["attack"][rows], data["takeover"][rows]), slurred,
            data["real"][rows],
        )  # fmt: skip
        second = note_loss(torch, note, data, rows)
        optimiser.zero_grad()
        (first + second).backward()
        torch.nn.utils.clip_grad_norm_(parameters, 2.0)
        return first.item(), second.item()

    slurred_place = CHANNELS - CONSTANTS + 1
    if fit_s is not None:
        epochs = epochs_in(
            fit_s, step, lambda: torch.randint(count, (batch,), device=device), count
        )
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimiser, 1e-3 if start else 3e-3, total_steps=epochs * (count // batch)
    )
    for epoch in range(epochs):
        order = torch.randperm(count, device=device)
        sums = np.zeros(2)
        for begin in range(0, count - batch + 1, batch):
            sums += step(order[begin : begin + batch])
            optimiser.step()
            schedule.step()
        losses = sums * batch / count
        print(f"epoch {epoch}: attack {losses[0]:.3f} note {losses[1]:.3f}", flush=True)
    return weights_of(attack, note)


def otherwise_recorded(torch, inputs):
    """The inputs as if through another microphone: all levels shifted alike (loudness must not
    matter), and a smooth change of the spectrum."""
    count, _, _ = inputs.shape
    spectrum = random_spectrum(torch, count, inputs.device)
    middle = 12 * inputs[:, 0, -7] + MIDDLE_PITCH
    pitches = [
        middle,
        middle + 7 * inputs[:, 0, -3],
        middle + 7 * inputs[:, 0, -2],
    ]
    bands = torch.tensor(np.sqrt(np.multiply(BANDS_HZ[:-1], BANDS_HZ[1:])), device=inputs.device)
    high = torch.tensor([2500.0, 5000.0], device=inputs.device)
    change = torch.zeros(count, CHANNELS, device=inputs.device)
    change[:, 1:3] = spectrum(high.expand(count, -1).float())
    change[:, 3 : 3 + len(bands)] = spectrum(bands.expand(count, -1).float())
    harmonics = torch.arange(1, HARMONICS + 1, device=inputs.device)
    levels = torch.ones(CHANNELS, device=inputs.device)
    levels[-CONSTANTS:] = 0
    for k, pitch in enumerate(pitches):
        first = SOUND_CHANNELS + k * PITCH_CHANNELS
        hz = 440 * 2 ** ((pitch[:, None] - 69) / 12) * harmonics
        change[:, first : first + 2 * HARMONICS] = spectrum(hz).repeat(1, 2)
        levels[first + PITCH_CHANNELS - 1] = 0
        # Where there is no neighbour there is nothing to change.
        silent = (inputs[:, 0, first] == SILENT) & (inputs[:, -1, first] == SILENT)
        change[silent, first : first + PITCH_CHANNELS] = 0
    shift = torch.randn(count, 1, device=inputs.device) * 0.3
    return inputs + ((change + shift) * levels)[:, None, :]


def random_spectrum(torch, count, device):
    """A smooth random gain (scaled decibels) over the frequency for each of `count` takes."""
    sizes = torch.randn(count, 1, 4, device=device) * torch.tensor(
        [0.22, 0.12, 0.08, 0.06], device=device
    )
    turns = torch.tensor([0.5, 1.0, 2.0, 3.0], device=device)
    phases = torch.rand(count, 1, 4, device=device) * 2 * np.pi

    def gain(hz):
        place = torch.log2(hz.clamp(min=30.0) / 60) / np.log2(8000 / 60)
        return (sizes * torch.cos(np.pi * turns * place[:, :, None] + phases)).sum(2)

    return gain


def note_loss(torch, note, data, rows):
    """Over all looks at the notes."""
    patches = data["patches"][rows].float().flatten(0, 1)
    contexts = data["contexts"][rows].float().flatten(0, 1)
    there, pitches, splits, dulls = (
        data[name][rows].flatten() for name in ("there", "pitch", "split", "muffled")
    )
    patches = patches + patch_change(torch, patches, contexts)
    pitch, settled = note(patches, contexts)
    losses = torch.nn.functional
    known = (pitches >= 0) & (there > 0.5)
    total = losses.cross_entropy(pitch[known], pitches[known])
    total = total + losses.binary_cross_entropy_with_logits(settled[:, 0], there)
    for place, truth in ((1, splits), (2, dulls)):
        told = known & (truth >= 0)
        total = total + losses.binary_cross_entropy_with_logits(
            settled[told][:, place], truth[told], weight=1 + 3 * truth[told]
        )
    return total


def patch_change(torch, patches, contexts):
    """The same changes for the patches."""
    count = len(patches)
    steps = LOWEST + STEP * torch.arange(GRID, device=patches.device)
    hz = 440 * 2 ** ((12 * contexts[:, :1] + MIDDLE_PITCH + steps[None] - 69) / 12)
    change = torch.zeros(count, WIDTH, device=patches.device)
    change[:, :GRID] = random_spectrum(torch, count, patches.device)(hz)
    shift = torch.randn(count, 1, device=patches.device) * 0.3
    levels = torch.ones(WIDTH, device=patches.device)
    levels[GRID:-1] = 0
    return ((change + shift) * levels)[:, None, :]


def weights_of(attack, note) -> dict[str, np.ndarray]:
    names = {"inside": "in", "out": "out", "none": "none"}
    found = {}
    for name, tensor in itertools.chain(
        (("attack." + n, t) for n, t in attack.state_dict().items()),
        (("note." + n, t) for n, t in note.state_dict().items()),
    ):
        net, *middle, kind = name.split(".")
        inner = f"l{middle[1]}" if middle[0] == "layers" else names.get(middle[0], middle[0])
        values = tensor.cpu().numpy()
        values = values.T if kind == "weight" else values
        if inner == "none":
            values = values[..., 0] if kind == "weight" else values[0]
        found[f"{net}.{inner}.{'w' if kind == 'weight' else 'b'}"] = values.astype(np.float32)
    return found


def load_weights(torch, path, attack, note) -> None:
    """Start from weights that were trained before."""
    names = {"in": "inside"}
    states: dict[str, dict] = {"attack": {}, "note": {}}
    with np.load(path) as stored:
        for name in stored.files:
            net, inner, kind = name.split(".")
            values = stored[name].astype(np.float32)
            if inner == "none":
                values = values[None] if kind == "w" else values.reshape(1)
            elif kind == "w":
                values = values.T
            inner = names.get(inner, f"layers.{inner[1:]}" if inner[1:].isdigit() else inner)
            states[net][f"{inner}.{'weight' if kind == 'w' else 'bias'}"] = torch.tensor(values)
    attack.load_state_dict(states["attack"])
    note.load_state_dict(states["note"])


def main() -> None:
    import torch

    parser = argparse.ArgumentParser()
    parser.add_argument("shared")
    parser.add_argument("out")
    parser.add_argument("--takes", type=int, default=6000)
    parser.add_argument("--jobs", type=int, default=16)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--epochs", type=int, default=30)
    parser.add_argument("--split", default="train")
    parser.add_argument("--start-from", help="weights to go on from")
    parser.add_argument("--make-s", type=float, default=1e9, help="longest time for making takes")
    parser.add_argument("--fit-s", type=float, help="time for training, instead of epochs")
    parser.add_argument("--keep", help="a folder to store the examples in")
    parser.add_argument("--also", help="a folder with stored examples to add")
    args = parser.parse_args()
    assert BACK_HOPS > 0 < AHEAD_HOPS
    examples = make_examples(args.shared, args.split, args.takes, args.jobs, args.seed, args.make_s)
    if args.keep:
        keep(examples, Path(args.keep))
    if args.also:
        examples = joined([examples, kept(Path(args.also))])
    began = time.time()
    weights = fit(torch, examples, args.epochs, args.seed, args.start_from, args.fit_s)
    print(f"trained in {time.time() - began:.0f} s", flush=True)
    np.savez_compressed(args.out, **{k: v.astype(np.float16) for k, v in weights.items()})


if __name__ == "__main__":
    main()
