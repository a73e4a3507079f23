//! What the program is built from: crates of one registry under licences that suit, and none
//! that speaks to a network.

use crate::util::root;
use serde_json::Value;
use std::process::Command;

/// Licences (SPDX names) that a closed or open product may be built from; MPL-2.0 asks that
/// changes to its own files be shared.
const FINE: [&str; 15] = [
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MPL-2.0",
    "OFL-1.1",
    "Ubuntu-font-1.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// Crates by which programs go online. Those for sockets within one machine, which screen
/// readers and file dialogs need on Linux, are not among them.
const ONLINE: [&str; 22] = [
    "attohttpc",
    "async-std",
    "curl",
    "curl-sys",
    "ehttp",
    "h2",
    "hickory-resolver",
    "hyper",
    "isahc",
    "minreq",
    "native-tls",
    "openssl",
    "opentelemetry",
    "quinn",
    "reqwest",
    "rustls",
    "sentry",
    "surf",
    "tonic",
    "tungstenite",
    "ureq",
    "websocket",
];

/// Every package of every system; cargo fetches the manifests it does not have yet.
fn packages() -> Vec<Value> {
    let out = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked"])
        .current_dir(root())
        .output()
        .expect("cargo runs");
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    let all: Value = serde_json::from_slice(&out.stdout).expect("JSON");
    all["packages"].as_array().expect("packages").clone()
}

/// Whether a licence expression can be met by licences that are fine: `OR` needs one side,
/// `AND` both, which binds closer (SPDX 2.3, annex D); older crates write `/` for `OR`.
fn suits(expression: &str) -> bool {
    let expression = expression.replace('/', " OR ");
    let mut depth = 0;
    for word in [" OR ", " AND "] {
        for (at, c) in expression.char_indices() {
            depth += i32::from(c == '(') - i32::from(c == ')');
            if depth == 0 && expression[at..].starts_with(word) {
                let (one, other) =
                    (suits(&expression[..at]), suits(&expression[at + word.len()..]));
                return if word == " OR " { one || other } else { one && other };
            }
        }
    }
    let one = expression.trim();
    match one.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')) {
        Some(inside) => suits(inside),
        None => FINE.contains(&one.split_whitespace().collect::<Vec<_>>().join(" ").as_str()),
    }
}

#[test]
fn every_crate_has_a_licence_and_a_source_that_suit() {
    let packages = packages();
    assert!(packages.len() > 100);
    for package in &packages {
        let name = &package["name"];
        let licence = package["license"].as_str().unwrap_or_default();
        assert!(suits(licence), "{name} is under \"{licence}\"");
        if let Some(source) = package["source"].as_str() {
            assert!(source.contains("crates.io-index"), "{name} comes from {source}");
        }
    }
}

#[test]
fn no_crate_goes_online() {
    for package in packages() {
        let name = package["name"].as_str().expect("a name");
        assert!(!ONLINE.contains(&name), "{name} goes online");
    }
}

#[test]
fn expressions_are_read_as_spdx_does() {
    for (expression, fine) in [
        ("MIT", true),
        ("GPL-3.0-only", false),
        ("Apache-2.0 OR GPL-2.0-only", true),
        ("GPL-2.0-only AND MIT", false),
        ("MIT OR GPL-2.0-only AND GPL-3.0-only", true),
        ("(MIT OR Apache-2.0) AND Unicode-3.0", true),
        ("(MIT OR Apache-2.0) AND GPL-3.0-only", false),
        ("MIT/Unlicense", true),
        ("Apache-2.0 WITH LLVM-exception OR X", true),
        ("", false),
    ] {
        assert_eq!(suits(expression), fine, "{expression}");
    }
}
