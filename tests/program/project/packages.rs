//! The packages that the program is made of: licences, where they come from, and what of them runs while
//! it is built. `.deny.toml` holds the same licences for `cargo deny`.

use std::collections::BTreeMap;
use std::fs;

use serde_json::Value;

use super::root;

/// Licences that ask for no more than their notice.
const PERMISSIVE: [&str; 13] = [
    "MIT",
    "Apache-2.0",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "ISC",
    "Zlib",
    "Unicode-3.0",
    "0BSD",
    "BSL-1.0",
    "CC0-1.0",
    "Unlicense",
    "MIT-0",
    "Apache-2.0 WITH LLVM-exception",
];

/// Whether an SPDX expression can be met by permissive licences alone. Parentheses stand in the
/// dependencies' expressions only around alternatives.
fn is_permissive(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], "").replace('/', " OR ");
    if expression.contains('(') {
        return expression
            .split(" AND ")
            .all(|part| is_permissive(part.trim().trim_start_matches('(').trim_end_matches(')')));
    }
    let alternatives = plain.split(" OR ").map(str::trim);
    alternatives.into_iter().any(|a| a.split(" AND ").all(|one| PERMISSIVE.contains(&one.trim())))
}

/// What `cargo metadata` says of all packages that this machine's program and tests are made of.
fn packages() -> Vec<Value> {
    let output = std::process::Command::new(env!("CARGO"))
        .args([
            "metadata",
            "--format-version",
            "1",
            "--locked",
            "--offline",
            "--filter-platform",
            "host-tuple",
        ])
        .current_dir(root())
        .output()
        .unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let mut metadata: Value = serde_json::from_slice(&output.stdout).unwrap();
    let Value::Array(packages) = metadata["packages"].take() else { panic!("no packages") };
    assert!(packages.len() > 50);
    packages
}

#[test]
fn dependencies_are_permissive_and_from_the_registry() {
    for package in packages() {
        let licence = package["license"].as_str().unwrap_or("none");
        assert!(is_permissive(licence), "{}: {licence}", package["name"]);
        let is_own = package["name"] == env!("CARGO_PKG_NAME");
        let source = package["source"].as_str().unwrap_or("none");
        assert!(is_own || source.starts_with("registry+"), "{}: from {source}", package["name"]);
    }
    assert!(!is_permissive("GPL-3.0-only") && !is_permissive("MIT AND GPL-2.0-only"));
}

/// What a build script may do, told from its text.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Doing {
    /// Nothing but to set flags, by the target or by features.
    Flags,
    /// It writes code into its own folder of the build.
    Writes,
    /// It asks the compiler for its version or whether it takes a feature.
    Asks,
    /// Both.
    AsksAndWrites,
}

/// All packages that run something while the program or its tests are built, beside [`MACROS`]. Whoever
/// adds one reads its script first.
const BUILD_SCRIPTS: [(&str, Doing); 29] = [
    ("ahash", Doing::Asks),
    ("anyhow", Doing::AsksAndWrites),
    ("crossbeam-deque", Doing::Flags),
    ("crossbeam-epoch", Doing::Flags),
    ("crossbeam-utils", Doing::Flags),
    ("crunchy", Doing::Writes),
    ("getrandom", Doing::Asks),
    ("jsonschema-value", Doing::Flags),
    ("libc", Doing::Asks),
    ("libm", Doing::Flags),
    ("matrixmultiply", Doing::Asks),
    ("nix", Doing::Flags),
    ("num-traits", Doing::Asks),
    ("parking_lot_core", Doing::Flags),
    ("portable-atomic", Doing::Flags),
    ("proc-macro2", Doing::AsksAndWrites),
    ("proc-macro2-diagnostics", Doing::Asks),
    ("quote", Doing::Asks),
    ("rayon-core", Doing::Flags),
    ("ref-cast", Doing::AsksAndWrites),
    ("rustix", Doing::Asks),
    ("serde", Doing::AsksAndWrites),
    ("serde_core", Doing::AsksAndWrites),
    ("serde_json", Doing::Flags),
    ("thiserror", Doing::AsksAndWrites),
    ("tiny-keccak", Doing::Flags),
    ("unicode-general-category", Doing::Writes),
    ("zerocopy", Doing::Asks),
    ("zmij", Doing::Asks),
];

/// Packages whose macros run in the compiler.
const MACROS: [&str; 12] = [
    "clap_derive",
    "const-random-macro",
    "deprecate-until",
    "divan-macros",
    "maud_macros",
    "ref-cast-impl",
    "schemars_derive",
    "seq-macro",
    "serde_derive",
    "strum_macros",
    "thiserror-impl",
    "zerocopy-derive",
];

/// What the text of a script says that it does; none where it may reach the network.
fn doing(script: &str) -> Option<Doing> {
    let holds = |words: &[&str]| words.iter().any(|word| script.contains(word));
    if holds(&["TcpStream", "UdpSocket", "ureq", "reqwest", "\"curl\"", "\"wget\"", "\"git\""]) {
        return None;
    }
    let asks = holds(&["Command::new", "autocfg::", "version_check::"]);
    let writes = holds(&["fs::write", "File::create", "create_dir"]);
    Some(match (asks, writes) {
        (false, false) => Doing::Flags,
        (false, true) => Doing::Writes,
        (true, false) => Doing::Asks,
        (true, true) => Doing::AsksAndWrites,
    })
}

/// Names of the packages with a target of a kind, each with the text of that target.
fn targets(kind: &str) -> BTreeMap<String, Vec<String>> {
    let mut found: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for package in packages() {
        let targets = package["targets"].as_array().unwrap();
        for target in targets.iter().filter(|target| target["kind"][0] == kind) {
            let text = fs::read_to_string(target["src_path"].as_str().unwrap()).unwrap();
            found.entry(package["name"].as_str().unwrap().to_owned()).or_default().push(text);
        }
    }
    found
}

#[test]
fn what_runs_during_a_build_is_known() {
    let scripts = targets("custom-build");
    assert!(scripts.len() > 20 && !scripts.contains_key("fairphase"));
    for (name, texts) in &scripts {
        let known = BUILD_SCRIPTS.iter().find(|(known, _)| known == name);
        let Some((_, expected)) = known else {
            panic!("the build script of {name} is new: read it")
        };
        let most = texts.iter().map(|text| doing(text)).find(|own| *own == Some(*expected));
        assert!(most.is_some(), "{name}: {:?}", texts.iter().map(|t| doing(t)).collect::<Vec<_>>());
        assert!(texts.iter().all(|text| doing(text).is_some()), "{name} may reach the network");
    }
    let macros = targets("proc-macro");
    let strange: Vec<&String> =
        macros.keys().filter(|name| !MACROS.contains(&name.as_str())).collect();
    assert_eq!(strange, Vec::<&String>::new(), "macros of these packages are new: read them");
    let lock = fs::read_to_string(root().join("Cargo.lock")).unwrap();
    for name in BUILD_SCRIPTS.iter().map(|(name, _)| name).chain(&MACROS) {
        assert!(lock.contains(&format!("name = \"{name}\"")), "{name} is no longer used");
    }
    assert_eq!(doing("fn main() { TcpStream::connect(\"a:1\"); }"), None);
    assert_eq!(doing("fn main() { fs::write(\"a\", \"b\"); }"), Some(Doing::Writes));
}

/// The program's own lint refuses `unsafe` wherever it stands; nothing lifts it.
#[test]
fn unsafe_code_is_forbidden() {
    let manifest = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let manifest: toml::Table = manifest.parse().unwrap();
    assert_eq!(manifest["lints"]["rust"]["unsafe_code"].as_str(), Some("forbid"));
}

/// `cargo deny` and the test above hold the same licences.
#[test]
fn one_list_of_licences() {
    let deny: toml::Table = fs::read_to_string(root().join(".deny.toml")).unwrap().parse().unwrap();
    let allowed = deny["licenses"]["allow"].as_array().unwrap().iter();
    let mut allowed: Vec<&str> = allowed.map(|name| name.as_str().unwrap()).collect();
    let mut own = PERMISSIVE.to_vec();
    allowed.sort_unstable();
    own.sort_unstable();
    assert_eq!(allowed, own);
}
