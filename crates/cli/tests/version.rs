//! The command names itself. That this test asks for the binary also makes `cargo test` build it for
//! the command-line tests of the workspace.

use std::process::Command;

#[test]
fn the_version_is_that_of_the_package() {
    let output = Command::new(env!("CARGO_BIN_EXE_tallyhouse")).arg("--version").output().unwrap();
    let text = String::from_utf8(output.stdout).unwrap();
    assert_eq!(text, format!("tallyhouse {}\n", env!("CARGO_PKG_VERSION")));
}
