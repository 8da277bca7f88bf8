//! What is not protected must be seen to go wrong, or the soak sees nothing.

use std::fs;
use std::process::{Command, Stdio};

use tallyhouse_tests::command::run;

use crate::figures::judge;
use crate::jobs::inputs;
use crate::trees::{difference, tree};

#[test]
#[ignore = "long"]
fn a_planted_fault_is_caught() {
    // Plain text carries no digest: another clue gives other results.
    let inputs = inputs();
    let expected = run(inputs.path(), &["describe", "in.txt", "--json"]);
    let text = fs::read_to_string(inputs.path().join("in.txt")).unwrap();
    let lines: Vec<&str> = text.lines().filter(|line| !line.starts_with('#')).collect();
    fs::write(inputs.path().join("in.txt"), text.replacen(lines[0], "damaged", 1)).unwrap();
    let ran = run(inputs.path(), &["describe", "in.txt", "--json"]);
    let judged = judge(&ran, || (ran.out != expected.out).then(|| "other text".to_owned()));
    assert_eq!(judged, Err("other text".to_owned()));
    // A writer that is not careful: killed, it leaves half a file; twice at once, it doubles it.
    let careless = "echo one >> out; mv out o; sleep 0.1; echo two >> o; mv o out";
    let folder = tempfile::tempdir().unwrap();
    let shell = |prefix: &[&str]| {
        let all = [prefix, &["sh", "-c", careless]].concat();
        let mut command = Command::new(all[0]);
        command.args(&all[1..]).current_dir(folder.path());
        command.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap()
    };
    assert!(shell(&[]).wait().unwrap().success());
    let expected = tree(folder.path());
    fs::remove_file(folder.path().join("out")).unwrap();
    let inject = "inject=rename,renameat,renameat2:signal=KILL:when=1";
    shell(&["strace", "-f", "-o", "/dev/null", "-e", inject]).wait().unwrap();
    shell(&[]).wait().unwrap();
    assert!(difference(&tree(folder.path()), &expected).is_some());
    for name in ["out", "o"] {
        let _ = fs::remove_file(folder.path().join(name));
    }
    let mut pair = [shell(&[]), shell(&[])];
    pair.iter_mut().for_each(|child| assert!(child.wait().is_ok()));
    assert!(difference(&tree(folder.path()), &expected).is_some());
}
