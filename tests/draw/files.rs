//! Drawings as files: named safely, listed, and never outside their folder.

use super::plans::*;
use flitchwork::draw::{DrawOptions, write_all};
use flitchwork::measure::Units;

fn options() -> DrawOptions {
    DrawOptions::defaults(Units::Inches)
}

#[test]
fn a_plan_becomes_one_file_a_piece_of_stock_an_overview_and_a_page_that_lists_them() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let dir = folder.path().join("new/drawings");
    let (plan, pile) = together();
    let written = write_all(&plan, &pile, &options(), &dir).expect("written");
    let names: Vec<String> =
        written.iter().map(|path| path.file_name().expect("a file").to_string_lossy().into_owned()).collect();
    assert_eq!(
        names,
        [
            "00-overview.svg",
            "01-C-04.svg",
            "02-A-1.svg",
            "03-W-16.svg",
            "04-PLY-18-2.svg",
            "05-SQ.svg",
            "06-b-C.svg",
            "index.html"
        ]
    );
    let page = std::fs::read_to_string(dir.join("index.html")).expect("the page");
    for name in &names[..7] {
        assert!(
            page.contains(&format!("<a href=\"{name}\">")) && page.contains(&format!("<img src=\"{name}\" alt=\""))
        );
        let file = std::fs::read_to_string(dir.join(name)).expect("the drawing");
        assert!(roxmltree::Document::parse(&file).is_ok(), "{name}");
    }
    assert!(page.contains("&lt;b&gt;&amp;&quot;C&#39;"), "ids are escaped");
    assert_eq!(std::fs::read_dir(&dir).expect("the folder").count(), 8, "nothing else is left behind");
}

#[test]
fn equal_ids_after_cleaning_do_not_overwrite_each_other_and_none_leaves_the_folder() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let dir = folder.path().join("out");
    let (one, _) = long_board();
    let ids = ["../x", "..\\x", "/x", "x"];
    let mut plan = plan("Twins", vec![]);
    let mut stock = pile(vec![]);
    for id in ids {
        let mut used = one.stock[0].clone();
        used.id = id.to_string();
        plan.stock.push(used);
        stock.boards.push(board(id, "walnut", 3072, 80, vec![]));
    }
    let written = write_all(&plan, &stock, &options(), &dir).expect("written");
    let mut unique = written.clone();
    unique.dedup();
    assert_eq!(unique.len(), 6);
    assert!(written.iter().all(|path| path.parent() == Some(dir.as_path())));
    assert_eq!(std::fs::read_dir(folder.path()).expect("the folder").count(), 1);
}

#[test]
fn writing_again_replaces_the_drawings() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let (plan, pile) = ash_stick();
    let first = write_all(&plan, &pile, &options(), folder.path()).expect("written");
    let bytes: Vec<Vec<u8>> = first.iter().map(|path| std::fs::read(path).expect("a file")).collect();
    let second = write_all(&plan, &pile, &options(), folder.path()).expect("written again");
    let again: Vec<Vec<u8>> = second.iter().map(|path| std::fs::read(path).expect("a file")).collect();
    assert_eq!((first, bytes), (second, again));
}

#[cfg(unix)]
#[test]
fn a_link_at_a_drawings_place_is_replaced_and_not_followed() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let dir = folder.path().join("out");
    std::fs::create_dir(&dir).expect("made");
    let elsewhere = folder.path().join("precious.txt");
    std::fs::write(&elsewhere, "keep me").expect("written");
    for name in ["01-SQ.svg", "01-SQ.svg.new"] {
        std::os::unix::fs::symlink(&elsewhere, dir.join(name)).expect("linked");
    }
    let (plan, pile) = ash_stick();
    write_all(&plan, &pile, &options(), &dir).expect("written");
    assert_eq!(std::fs::read_to_string(&elsewhere).expect("still there"), "keep me");
    assert!(dir.join("01-SQ.svg").symlink_metadata().expect("there").is_file());
}

#[test]
fn nothing_is_written_when_a_drawing_fails() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let dir = folder.path().join("out");
    let (plan, _) = ash_stick();
    let error = write_all(&plan, &pile(vec![]), &options(), &dir).expect_err("the stick is not in the pile");
    assert!(error.to_string().contains("SQ"));
    assert!(!dir.exists());
}

#[test]
fn a_folder_that_cannot_be_made_is_named() {
    let folder = tempfile::tempdir().expect("a scratch folder");
    let file = folder.path().join("file");
    std::fs::write(&file, "").expect("written");
    let (plan, pile) = ash_stick();
    let error = write_all(&plan, &pile, &options(), &file.join("out")).expect_err("a file is in the way");
    assert!(error.to_string().contains("out"));
}
