//! What a sample promises: counts, sizes inside the boards, the same sample for the same seed.

use super::*;

fn covered(board: &Board) -> f64 {
    let area: Area = board.defects.iter().map(|defect| defect.length * defect.width).sum();
    area.to_f64(Units::Inches) / (board.length * board.width).to_f64(Units::Inches)
}

#[test]
fn a_sample_has_the_boards_and_pieces_asked_for() {
    for (boards, pieces) in [(1, 1), (12, 30), (40, 120), (200, 600)] {
        let (job, pile) = generate(3, boards, pieces);
        assert_eq!(pile.boards.len() as u32, boards);
        assert_eq!(job.parts.iter().map(|part| part.qty).sum::<u32>(), pieces);
    }
}

#[test]
fn the_same_seed_gives_the_same_sample_and_another_seed_another() {
    assert_eq!(generate(11, 40, 120), generate(11, 40, 120));
    assert_ne!(generate(11, 40, 120), generate(12, 40, 120));
}

#[test]
fn every_defect_lies_on_its_board_in_either_system() {
    for units in [Units::Inches, Units::Millimetres] {
        for board in generate_in(units, 5, 300, 900).1.boards {
            for defect in &board.defects {
                assert!(!defect.x.is_negative() && defect.x + defect.length <= board.length, "{} {defect:?}", board.id);
                assert!(!defect.y.is_negative() && defect.y + defect.width <= board.width, "{} {defect:?}", board.id);
                assert!(defect.length > Length::ZERO && defect.width > Length::ZERO);
            }
        }
    }
}

#[test]
fn ids_are_unique() {
    let (job, pile) = generate(8, 500, 1500);
    let mut ids: Vec<&str> = pile.boards.iter().map(|board| board.id.as_str()).collect();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), 500);
    let mut ids: Vec<&str> = job.parts.iter().map(|part| part.id.as_str()).collect();
    let parts = ids.len();
    ids.sort_unstable();
    ids.dedup();
    assert_eq!(ids.len(), parts);
}

/// Mean defective surface by grade: Wiedenbeck, Gatchell and Walker 1995, abstract (1.2, 6.8 and 9.8 %). The tolerance
/// is the granularity of whole defects on small boards.
#[test]
fn poorer_grades_are_as_defective_as_published() {
    let boards = generate(1, 3000, 9000).1.boards;
    for (grade, published) in [("FAS", 0.012), ("1C", 0.068), ("2A", 0.098)] {
        let shares: Vec<f64> = boards.iter().filter(|b| b.grade.as_deref() == Some(grade)).map(covered).collect();
        let mean = shares.iter().sum::<f64>() / shares.len() as f64;
        assert!((mean - published).abs() < 0.006, "{grade}: {mean}");
    }
}

#[test]
fn a_millimetre_sample_is_measured_in_half_millimetres() {
    let (job, pile) = generate_in(Units::Millimetres, 2, 40, 120);
    let whole = |length: Length| length.ticks() % (Length::PER_MM / 2) == 0;
    assert!(pile.boards.iter().all(|b| whole(b.length) && whole(b.width) && whole(b.thickness)));
    assert!(job.parts.iter().all(|p| whole(p.length) && whole(p.width) && whole(p.thickness)));
}

#[test]
fn parts_ask_for_about_a_third_of_the_surface_of_the_pile() {
    for seed in 0..10 {
        for (boards, pieces) in [(12, 32), (40, 120), (200, 600)] {
            let (job, pile) = generate(seed, boards, pieces);
            let have: Area = pile.boards.iter().map(|board| board.length * board.width).sum();
            let asked: Area = job.parts.iter().flat_map(|p| (0..p.qty).map(|_| p.full_length() * p.width)).sum();
            let share = asked.to_f64(Units::Inches) / have.to_f64(Units::Inches);

            assert!((0.24..=0.40).contains(&share), "seed {seed}, {boards} boards: {share}");
        }
    }
}

#[test]
fn a_sample_reads_back_from_its_files_as_it_was() {
    for units in [Units::Inches, Units::Millimetres] {
        let (job, pile) = generate_in(units, 6, 30, 90);
        assert_eq!(crate::job::file::read_json("job.json", &crate::job::file::write_json(&job), None), Ok(job));
        assert_eq!(crate::pile::file::read_json("pile.json", &crate::pile::file::write_json(&pile)), Ok(pile));
    }
}

#[test]
fn a_glued_sample_asks_for_panels_and_laminations_from_the_same_pile_and_is_a_job_that_reads() {
    let ((plain, stack), (job, pile)) = (generate(4, 40, 120), generate_with(Units::Inches, 4, 40, 120, true));
    assert_eq!(pile, stack);
    assert!(job.parts.iter().any(|part| part.panel.is_some()));
    assert!(job.parts.iter().any(|part| part.lamination.is_some()));
    assert!(job.parts.iter().any(|part| part.matching.is_some()));
    assert_eq!(job.parts.len(), plain.parts.len());
    let text = crate::job::file::write_json(&job);
    assert_eq!(crate::job::file::read_json("job.json", &text, None).expect("a job that reads"), job);
}
