//! Boards, defects and parts as a spreadsheet writes them: every dialect the same figures, every slip named by row and
//! column.

use flitchwork::job::{Lamination, MatchRule, Wanted};
use flitchwork::measure::{Length, Money, Units};
use flitchwork::pile::{DefectFace, DefectKind, Pile, Price, Rings, Surfaced};
use flitchwork::{job, pile};
use rstest::rstest;

const fn inch(numerator: i64, denominator: i64) -> Length {
    Length::from_inch_fraction(numerator, denominator)
}

fn boards(text: &str) -> Pile {
    pile::file::read_csv("b.csv", text.as_bytes(), Units::Inches).unwrap_or_else(|faults| panic!("{faults}"))
}

fn boards_refused(text: &str) -> String {
    pile::file::read_csv("b.csv", text.as_bytes(), Units::Inches).expect_err("to be refused").to_string()
}

fn parts_refused(text: &str) -> String {
    job::file::read_csv("p.csv", text.as_bytes(), Units::Inches, None).expect_err("to be refused").to_string()
}

#[rstest]
#[case::commas("id,species,nominal,width,length,price_per_bf\nB1,ash,5/4,7.25,98.5,9.80\nB2,ash,4/4,6,96,8\n")]
#[case::semicolons_and_decimal_commas(
    "id;species;nominal;width;length;price_per_bf\nB1;ash;5/4;7,25;98,5;9,80\nB2;ash;4/4;6;96;8\n"
)]
#[case::tabs_and_crlf(
    "id\tspecies\tnominal\twidth\tlength\tprice_per_bf\r\nB1\tash\t5/4\t7,25\t98.5\t9.8\r\nB2\tash\t4/4\t6\t96\t8\r\n"
)]
#[case::a_byte_order_mark(
    "\u{feff}id,species,nominal,width,length,price_per_bf\nB1,ash,5/4,7.25,98.5,9.80\nB2,ash,4/4,6,96,8"
)]
#[case::quoted_fractions(
    "id,species,nominal,width,length,price_per_bf\n\"B1\",\"ash\",\"5/4\",\"7 1/4\"\"\",\"8' 2-1/2\"\"\",\"9,80\"\nB2,ash,4/4,6,8',8\n"
)]
#[case::unquoted_inch_marks(
    "id,species,nominal,width,length,price_per_bf\nB1,ash,5/4,7 1/4\",98 1/2\",9.8\nB2,ash,4/4,6\",96\",8\n"
)]
#[case::blank_lines_and_spaces(
    "\n\nid, species ,nominal,width,length,price_per_bf\n\n B1 , ash,5/4,7.25 ,98.5,9.80\n,,,,,\n\nB2,ash,4/4,6,96,8\n\n"
)]
#[case::any_order_and_case(
    "Price per BF,LENGTH,Width,Nominal,Species,ID\n9.80,98.5,7.25,5/4,ash,B1\n8,96,6,4/4,ash,B2\n"
)]
#[case::empty_columns_and_cells(
    "id,species,nominal,width,length,price_per_bf,grade,,\nB1,ash,5/4,7.25,98.5,9.80,,,\nB2,ash,4/4,6,96,8,\n"
)]
fn every_spreadsheets_dialect_gives_the_same_boards(#[case] text: &str) {
    let pile = boards(text);
    assert_eq!(pile.boards.len(), 2);
    let board = &pile.boards[0];
    assert_eq!((board.id.as_str(), board.species.as_str(), board.thickness), ("B1", "ash", inch(19, 16)));
    assert_eq!((board.width, board.length), (inch(29, 4), inch(197, 2)));
    assert_eq!(board.price, Price::BoardFoot(Money::from_micros(9_800_000)));
    assert_eq!((pile.boards[1].width, pile.boards[1].length), (inch(6, 1), inch(96, 1)));
}

#[test]
fn every_field_of_a_board_has_a_column() {
    let pile = boards(
        "id;species;thickness;width;length;grade;surfaced;rings;heart;cost;board_feet;surface_measure;moisture;warp.bow;warp.twist;marks;quantity\n\
         B1;red oak;1,28;7;98;No. 1;SLR1E;Flat;Top;61,25;5,5;5;7,5;1/4;1/16;31-34, 90-end near ok;3\n",
    );
    let board = &pile.boards[0];
    assert_eq!((board.surfaced, board.rings), (Surfaced::Slr1e, Some(Rings::Flat)));
    assert_eq!((board.warp.bow, board.warp.twist, board.warp.cup), (inch(1, 4), inch(1, 16), Length::ZERO));
    assert_eq!((board.defects.len(), board.quantity, board.surface_measure), (2, 3, Some(5)));
    assert_eq!((board.thickness, board.moisture), (inch(128, 100), Some(7.5)));
    assert_eq!(board.price, Price::Piece(Money::from_micros(61_250_000)));
}

#[test]
fn warp_may_be_a_word_in_one_row_and_figures_in_the_next() {
    let pile = boards(
        "id,species,nominal,width,length,cost,warp,warp.bow\nB1,ash,4/4,6,96,1,slight,\nB2,ash,4/4,6,96,1,,0.5\n",
    );
    assert_eq!(pile.boards.iter().map(|b| b.warp.bow).collect::<Vec<_>>(), [inch(1, 8), inch(1, 2)]);
}

#[test]
fn lengths_without_a_unit_are_in_the_units_asked_for() {
    let text = "id;species;thickness;width;length;cost\nB1;ash;27;150,5;2400;30\nB2;ash;1 in;6 in;8 ft;30\n";
    let pile = pile::file::read_csv("b.csv", text.as_bytes(), Units::Millimetres).unwrap();
    assert_eq!(pile.boards[0].width, Length::from_ticks(12_040_000));
    assert_eq!(pile.boards[1].length, inch(96, 1));
}

#[rstest]
#[case::a_wrong_cell(
    "id,species,nominal,width,length,cost\nB1,ash,4/4,wide,96,1\n\nB2,ash,4/4,6,-96,1\n",
    "b.csv, row 2, column width: this is not a length (read \"wide\"); 23.5, 23 1/2 or 597 mm would do\n\n\
     b.csv, row 4, column length: a length cannot be negative (read \"-96\"); check the figure"
)]
#[case::a_missing_column_is_said_once(
    "id,species,nominal,width\nB1,ash,4/4,6\nB2,ash,4/4,6\n",
    "b.csv, the header row: there is no column `length`; add it: length, with the grain\n\n\
     b.csv, the header row: there is neither a column `cost` nor `price_per_bf`; write what the piece costs, or what a board foot of it costs; 0 if it was free"
)]
#[case::a_missing_cell(
    "id,species,nominal,width,length,cost\nB1,,4/4,6,96,\n",
    "b.csv, row 2, column species: `species` is missing; add it: the wood, as parts ask for it; case and spaces do not matter\n\n\
     b.csv, row 2: neither `cost` nor `price_per_bf` is given; write what the piece costs, or what a board foot of it costs; 0 if it was free"
)]
#[case::a_strange_column(
    "id,species,nominal,widht,width,length,cost\nB1,ash,4/4,6,6,96,1\n",
    "b.csv, the header row: this column is not known (read \"widht\"); did you mean `width`?"
)]
#[case::sheets(
    "id,species,material,nominal,width,length,cost\nB1,ash,,4/4,6,96,1\n",
    "b.csv, the header row: this column is not known (read \"material\"); sheets and sticks are not read from CSV; write them in a JSON pile"
)]
#[case::a_column_twice(
    "id,species,nominal,width,Width,length,cost\nB1,ash,4/4,6,6,96,1\n",
    "b.csv, the header row: there are two columns `width` (read \"Width\"); leave one of them out"
)]
#[case::an_unquoted_decimal_comma(
    "id,species,nominal,width,length,cost\nB1,ash,4/4,6,96,1,50\n",
    "b.csv, row 2: cell 7 has no column name above it (read \"50\"); name the column; a cell that holds a comma or semicolon needs quotation marks"
)]
#[case::thousands_or_decimals(
    "id,species,nominal,width,length,cost\nB1,ash,4/4,6,96,\"1,250\"\n",
    "b.csv, row 2, column cost: the comma may stand for thousands or for decimals (read \"1,250\"); write it without thousands, and decimals with a point"
)]
#[case::thousands_and_decimals(
    "id;species;nominal;width;length;cost\nB1;ash;4/4;6;96;1.250,50\n",
    "b.csv, row 2, column cost: an amount of money is wanted here (read \"1.250,50\"); write digits only, without signs of money, units or thousands"
)]
#[case::a_sign_of_money(
    "id,species,nominal,width,length,cost\nB1,ash,4/4,6,96,$12\n",
    "b.csv, row 2, column cost: an amount of money is wanted here (read \"$12\"); write digits only, without signs of money, units or thousands"
)]
#[case::an_open_quotation_mark(
    "id,species,nominal,width,length,cost\nB1,\"ash,4/4,6,96,1\nB2,ash,4/4,6,96,1\n",
    "b.csv, row 2: the cell in column `species` goes on over several lines (read \"ash,4/4,6,96,1\\nB2,ash,4/4,6,96,1\\n\"); close its quotation mark, or take the line breaks out"
)]
#[case::a_quarter_turned_into_a_date(
    "id,species,nominal,width,length,cost\nB1,ash,5-Apr,6,96,1\n",
    "b.csv, row 2, column nominal: this is not a nominal thickness (read \"5-Apr\"); write 4/4, 5/4, 8/4; format the cells as text"
)]
#[case::ids_twice(
    "id,species,nominal,width,length,cost\nB1,ash,4/4,6,96,1\nB1,ash,4/4,6,96,1\n",
    "b.csv, row 3, column id: this id is already taken, at row 2, column id (read \"B1\"); give every piece an id of its own"
)]
#[case::warp_twice(
    "id,species,nominal,width,length,cost,warp,warp.bow\nB1,ash,4/4,6,96,1,flat,0.5\n",
    "b.csv, row 2: `warp` and `warp.bow` are both filled (read \"0.5\"); clear one of them"
)]
#[case::empty(
    "\n\n",
    "b.csv: this file is empty; put the column names in the first row: id, species, nominal, thickness, width, length, grade, surfaced, rings, heart, cost, price_per_bf, board_feet, surface_measure, moisture, warp.bow, warp.crook, warp.cup, warp.twist, warp, marks, quantity"
)]
#[case::a_header_alone(
    "id,species,nominal,width,length,cost\n",
    "b.csv: there is no board in this file; write one board a row below the header"
)]
fn a_spreadsheet_of_boards_is_refused_by_row_and_column(#[case] text: &str, #[case] message: &str) {
    assert_eq!(boards_refused(text), message);
}

#[rstest]
#[case::utf16_little(&[0xFF, 0xFE, b'i', 0, b'd', 0], "b.csv: this file is not UTF-8 text but UTF-16, or no text at all; save it from the spreadsheet as \"CSV UTF-8\"")]
#[case::utf16_big(&[0xFE, 0xFF, 0, b'i', 0, b'd'], "b.csv: this file is not UTF-8 text but UTF-16, or no text at all; save it from the spreadsheet as \"CSV UTF-8\"")]
#[case::an_old_code_page(
    b"id,species\nB1,h\xEAtre\n",
    "b.csv, row 2: a character here is not UTF-8; save it from the spreadsheet as \"CSV UTF-8\""
)]
fn bytes_that_are_no_utf8_are_refused(#[case] bytes: &[u8], #[case] message: &str) {
    assert_eq!(pile::file::read_csv("b.csv", bytes, Units::Inches).unwrap_err().to_string(), message);
}

#[test]
fn defects_come_in_a_spreadsheet_of_their_own() {
    let mut pile = boards("id,species,nominal,width,length,cost,marks\nB1,ash,4/4,6,96,1,90-end\nB2,ash,4/4,6,96,1,\n");
    let text = "Board;Kind;X;Y;Length;Width;Face;Sound\nB2;knot;31;2,25;2,5;1 3/4;top;no\nB1;sap;0;0;96;1/2;;\n";
    pile::file::read_defects_csv("d.csv", text.as_bytes(), Units::Inches, &mut pile).unwrap();
    let knot = &pile.boards[1].defects[0];
    assert_eq!((knot.kind, knot.y, knot.width, knot.face), (DefectKind::Knot, inch(9, 4), inch(7, 4), DefectFace::Top));
    assert_eq!(pile.boards[0].defects.len(), 2);
    assert!(pile.boards[0].defects[1].sound);
}

#[test]
fn a_faulty_spreadsheet_of_defects_names_all_and_changes_nothing() {
    let mut pile = boards("id,species,nominal,width,length,cost\nB1,ash,4/4,6,96,1\n");
    let before = pile.clone();
    let text = "board,kind,x,y,length,width\nB1,knot,1,1,1,1\nB9,knot,1,1,1,1\nB1,nail,1,1,1,1\nB1,knot,1,5.5,1,1\n";
    let faults = pile::file::read_defects_csv("d.csv", text.as_bytes(), Units::Inches, &mut pile).unwrap_err();
    assert_eq!(
        faults.to_string(),
        "d.csv, row 3, column board: there is no board of this id in the pile (read \"B9\"); write the id as it stands in the pile\n\n\
         d.csv, row 4, column kind: this word is not known here (read \"nail\"); write `knot`, `check`, `split`, `wane`, `pith`, `sap`, `hole`, `stain`, `bark` or `mark`\n\n\
         d.csv, row 5: this defect lies outside its board: `y` + `width` comes to 6.5 in, the board is 6 in wide; measure along from the left end and across from the reference edge"
    );
    assert_eq!(pile, before);
}

#[test]
fn every_field_of_a_part_has_a_column() {
    let text = "ID;Qty;Species;Material;Thickness;Width;Length;Tenon left;tenon_right;Faces;Rings;Priority;Value;Group;Note;lamination;lamination.layers;panel.stave_min;panel.stave_max;panel.equal;match.group;match.rule;match.scope;match.worth\n\
        rail;4;cherry;;7/8;3;21,5;1;1 1/4;C2F;quarter, rift;1;12,5;base;dry fit;;;;;;;;;\n\
        leg;4;cherry;;2;2;27;;;;;;;;;;2;;;;leg;board;copy;15\n\
        post;1;cherry;;2;2;27;;;;;;;;;yes;;;;;;;;\n\
        top;1;cherry;;7/8;20;44;;;;;;;;;;;2,5;5,5;yes;;;;\n\
        bottom;1;;oak ply;0,709;18;40;;;;;;;;;;;;;;;;;\n";
    let job = job::file::read_csv("p.csv", text.as_bytes(), Units::Inches, None).unwrap_or_else(|f| panic!("{f}"));
    assert_eq!(job.parts.len(), 5);
    let rail = &job.parts[0];
    assert_eq!((rail.qty, rail.tenons, rail.length), (4, [inch(1, 1), inch(5, 4)], inch(43, 2)));
    assert_eq!(rail.rings, [Rings::Quarter, Rings::Rift]);
    assert_eq!(rail.value, Money::from_f64(12.5));
    assert_eq!(job.parts[1].lamination, Some(Lamination { layers: Some(2) }));
    assert_eq!(job.parts[1].matching.as_ref().map(|m| m.rule), Some(MatchRule::Board));
    assert_eq!(job.parts[2].lamination, Some(Lamination { layers: None }));
    assert_eq!(job.parts[3].panel.as_ref().map(|p| (p.stave_min, p.equal)), Some((inch(5, 2), true)));
    assert_eq!(job.parts[4].stock, Wanted::Material("oak ply".into()));
}

#[rstest]
#[case::a_tenon_too_long(
    "id,species,thickness,width,length,tenon_left\nA,ash,1,3,20,21\n",
    "p.csv, row 2, column tenon_left: a tenon of 21 in is longer than its part, 20 in (read \"21\"); `length` counts from shoulder to shoulder; check both figures"
)]
#[case::tenons_in_one_column(
    "id,species,thickness,width,length,tenons\nA,ash,1,3,20,1\n",
    "p.csv, the header row: this column is not known (read \"tenons\"); write `tenon_left` and `tenon_right`"
)]
#[case::quantity_for_qty(
    "id,species,thickness,width,length,quantity\nA,ash,1,3,20,1\n",
    "p.csv, the header row: this column is not known (read \"quantity\"); did you mean `qty`?"
)]
#[case::no_wood_at_all(
    "id,thickness,width,length\nA,1,3,20\nB,1,3,20\n",
    "p.csv, the header row: there is neither a column `species` nor `material`; ask for a `species` of lumber, or for the `material` of a sheet or stick"
)]
#[case::both_ways_of_gluing(
    "id,species,thickness,width,length,lamination.layers,panel.stave_min,panel.stave_max\nA,ash,1,3,20,2,2,3\n",
    "p.csv, row 2, column panel: `lamination` and `panel` are both given; a part is built up in thickness or in width: part it into two parts"
)]
#[case::a_no_for_lamination(
    "id,species,thickness,width,length,lamination\nA,ash,1,3,20,no\n",
    "p.csv, row 2, column lamination: this is no lamination (read \"no\"); write `yes`, or the number of layers in a column `lamination.layers`; leave it empty for none"
)]
#[case::a_bare_panel(
    "id,species,thickness,width,length,panel\nA,ash,1,3,20,yes\n",
    "p.csv, the header row: this column is not known (read \"panel\"); the columns are `id`, `qty`, `species`, `material`, `thickness`, `width`, `length`, `tenon_left`, `tenon_right`, `faces`, `rings`, `grain`, `priority`, `value`, `group`, `note`, `lamination.layers`, `lamination`, `panel.stave_min`, `panel.stave_max`, `panel.equal`, `panel.max_boards`, `match.group`, `match.rule`, `match.scope`, `match.worth`"
)]
fn a_spreadsheet_of_parts_is_refused_by_row_and_column(#[case] text: &str, #[case] message: &str) {
    assert_eq!(parts_refused(text), message);
}
