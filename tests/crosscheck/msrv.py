"""The oldest Rust named in Cargo.toml is true as far as it can be told without that Rust: no crate the program is built from asks for a newer
one. What the program itself uses of the standard library is held against it by clippy (`incompatible_msrv`, on by default).
"""

import json
import subprocess


def version(text):
    return tuple(int(part) for part in (text.split(".") + ["0", "0"])[:3])


def main():
    words = ["cargo", "metadata", "--format-version", "1", "--locked", "--all-features"]
    told = json.loads(subprocess.run(words, check=True, capture_output=True, text=True).stdout)
    nodes = {node["id"]: node for node in told["resolve"]["nodes"]}
    crates = {crate["id"]: crate for crate in told["packages"]}
    own = crates[told["resolve"]["root"]]["rust_version"]
    seen, todo = set(), [told["resolve"]["root"]]
    while todo:
        crate = todo.pop()
        if crate in seen:
            continue
        seen.add(crate)
        # What only the tests need may ask for more: the program is built without it.
        needed = (dep for dep in nodes[crate]["deps"] if any(kind["kind"] != "dev" for kind in dep["dep_kinds"]))
        todo.extend(dep["pkg"] for dep in needed)
    named = [crates[crate] for crate in sorted(seen) if crates[crate]["rust_version"]]
    newer = [f"{c['name']} {c['version']} asks for Rust {c['rust_version']}" for c in named if version(c["rust_version"]) > version(own)]
    assert not newer, f"Cargo.toml says Rust {own}, but {'; '.join(newer)}"
    most = max(named, key=lambda c: version(c["rust_version"]) if c["rust_version"] != own else (0,))
    print(f"msrv: none of {len(seen)} crates asks for more than Rust {own}; {most['name']} asks for most, {most['rust_version']}")


if __name__ == "__main__":
    main()
