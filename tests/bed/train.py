"""Train the follower's two nets; needs PyTorch, a GPU if there is one.

    python -m tests.bed.train SHARED OUT.npz [--takes 6000] [--jobs 16] [--seed 1] [--epochs 30]
                              [--split train] [--start-from WEIGHTS.npz]

Deterministic for a seed as far as the device is.  The weights are run by numpy (coach/hear/follow).
"""

from __future__ import annotations

import argparse
import itertools
import multiprocessing
import time
from dataclasses import fields

import numpy as np

from coach.hear.follow.inputs import CHANNELS, PITCH_CLASSES
from coach.hear.follow.net import AHEAD_HOPS, BACK_HOPS, LAYERS, SETTLED
from coach.hear.follow.patch import STRETCHES, WIDTH
from tests.bed.examples import WINDOW_HOPS, Examples, examples_of
from tests.bed.takes import training_take

HIDDEN = 64
STRETCH_HIDDEN, MIX_HIDDEN, DEEP_HIDDEN = 48, 128, 64
SPREAD_HOPS = 0.8

_sources = {}


def _start(shared: str, split: str) -> None:
    from tests.bed.takes import Sources

    _sources["all"] = Sources(shared, split)


def _make(seed: int) -> Examples | None:
    rng = np.random.default_rng(seed)
    take = training_take(_sources["all"], rng)
    return examples_of(take, rng) if len(take.truth) else None


def make_examples(shared: str, split: str, takes: int, jobs: int, seed: int) -> Examples:
    """Examples of so many takes, made by several processes."""
    began = time.time()
    with multiprocessing.get_context("spawn").Pool(jobs, _start, (shared, split)) as pool:
        seeds = range(seed * 1_000_000, seed * 1_000_000 + takes)
        made = [e for e in pool.imap_unordered(_make, seeds, chunksize=8) if e is not None]
    joined = Examples(
        *(np.concatenate([getattr(e, f.name) for e in made]) for f in fields(Examples))
    )
    print(
        f"{len(joined.attack)} examples of {takes} takes in {time.time() - began:.0f} s", flush=True
    )
    return joined


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
            self.drop = nn.Dropout(0.1)

        def forward(self, patch, context):
            each = torch.relu(self.stretch(patch)).flatten(1)
            h = torch.relu(self.mix(torch.cat([self.drop(each), context], dim=1)))
            h = torch.relu(self.deep(h))
            return self.pitch(h), self.settled(h)

    return Attack, Note


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
    torch, examples: Examples, epochs: int, seed: int, start: str | None
) -> dict[str, np.ndarray]:
    """Train both nets; the weights by name."""
    torch.manual_seed(seed)
    device = "cuda" if torch.cuda.is_available() else "cpu"
    data = {
        f.name: torch.from_numpy(getattr(examples, f.name)).to(device) for f in fields(examples)
    }
    attack_class, note_class = build(torch)
    attack = attack_class().to(device)
    note = note_class(examples.contexts.shape[1]).to(device)
    if start:
        load_weights(torch, start, attack, note)
    parameters = [*attack.parameters(), *note.parameters()]
    optimiser = torch.optim.AdamW(parameters, lr=2e-3, weight_decay=1e-2)
    count, batch = len(examples.attack), 1024
    steps = epochs * (count // batch)
    schedule = torch.optim.lr_scheduler.OneCycleLR(
        optimiser, 1e-3 if start else 3e-3, total_steps=steps
    )
    slurred_place = CHANNELS - 7 + 1
    for epoch in range(epochs):
        order = torch.randperm(count, device=device)
        sums = np.zeros(2)
        for start in range(0, count - batch + 1, batch):
            rows = order[start : start + batch]
            inputs = data["inputs"][rows].float()
            # Loudness must not matter: shift all levels alike.
            shift = torch.randn(len(rows), 1, 1, device=device) * 0.3
            inputs = shifted(torch, inputs, shift)
            slurred = inputs[:, 0, slurred_place] > 0.5
            first = attack_loss(
                torch, attack, inputs, (data["attack"][rows], data["takeover"][rows]), slurred,
                data["real"][rows],
            )  # fmt: skip
            second = note_loss(torch, note, data, rows)
            optimiser.zero_grad()
            (first + second).backward()
            torch.nn.utils.clip_grad_norm_(parameters, 2.0)
            optimiser.step()
            schedule.step()
            sums += (first.item(), second.item())
        losses = sums * batch / count
        print(f"epoch {epoch}: attack {losses[0]:.3f} note {losses[1]:.3f}", flush=True)
    return weights_of(attack, note)


def shifted(torch, inputs, shift):
    """Levels moved by `shift` (in scaled units), coherences and constants as they are."""
    levels = torch.ones(CHANNELS, device=inputs.device)
    levels[-7:] = 0
    for pitch in range(3):
        levels[14 + 18 * pitch + 17] = 0
    return inputs + shift * levels


def note_loss(torch, note, data, rows):
    patches = data["patches"][rows].float()
    shift = torch.randn(len(rows), 1, 1, device=patches.device) * 0.3
    levels = torch.ones(WIDTH, device=patches.device)
    levels[-54:-1] = 0
    pitch, settled = note(patches + shift * levels, data["contexts"][rows].float())
    there = data["there"][rows]
    known = (data["pitch"][rows] >= 0) & (there > 0.5)
    losses = torch.nn.functional
    by_pitch = losses.cross_entropy(pitch[known], data["pitch"][rows][known])
    by_there = losses.binary_cross_entropy_with_logits(settled[:, 0], there)
    split = data["split"][rows][known]
    by_split = losses.binary_cross_entropy_with_logits(
        settled[known][:, 1], split, weight=1 + 3 * split
    )
    return by_pitch + by_there + by_split


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
    args = parser.parse_args()
    assert BACK_HOPS > 0 < AHEAD_HOPS
    examples = make_examples(args.shared, args.split, args.takes, args.jobs, args.seed)
    began = time.time()
    weights = fit(torch, examples, args.epochs, args.seed, args.start_from)
    print(f"trained in {time.time() - began:.0f} s", flush=True)
    np.savez_compressed(args.out, **{k: v.astype(np.float16) for k, v in weights.items()})


if __name__ == "__main__":
    main()
