//! Advice made beside the loop.

use std::sync::mpsc::channel;

use spyhole::testing::edge::shop::adviser::Adviser;

use super::desk::Desk;
use crate::prelude::*;

#[test]
fn law_only_the_newest_question_is_answered() {
    let advices = Desk::busy().advices;
    let mut adviser = Adviser::new().unwrap();
    assert!(!adviser.awaits());
    let (begin, begun) = channel();
    let (release, held) = channel::<()>();
    let first = advices.clone();
    adviser.ask(move || {
        begin.send(()).unwrap();
        held.recv().unwrap();
        Ok(first)
    });
    begun.recv().unwrap();
    // While that one is worked on, nobody waits for it, and two newer ones are asked.
    assert!(adviser.hear(Duration::ZERO).is_none());
    adviser.ask(|| panic!("it was overtaken and need not be worked on"));
    let newest = vec![advices[1].clone()];
    adviser.ask(move || Ok(newest));
    release.send(()).unwrap();
    let heard = adviser.hear(PATIENCE).unwrap().unwrap();
    assert_eq!(heard.iter().map(|(id, _)| *id).collect::<Vec<_>>(), [FiringId(2)]);
    assert!(!adviser.awaits());
    assert!(adviser.hear(Duration::ZERO).is_none(), "an answer is heard once");
}

#[test]
fn law_what_kept_the_advice_from_being_made_is_told() {
    let mut adviser = Adviser::<()>::new().unwrap();
    adviser.ask(|| anyhow::bail!("the file is gone"));
    let heard = adviser.hear(PATIENCE).unwrap();
    assert_eq!(heard.unwrap_err().to_string(), "the file is gone");
}
