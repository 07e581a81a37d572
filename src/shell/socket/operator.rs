//! Another operator, asked for at the control socket.

use super::request::Answer;
use super::{Client, PATIENCE, SILENT};
use crate::shell::pages::Page;
use crate::shell::wishes::Wish;
use tokio::sync::oneshot;

impl Client {
    /// Hands over to the operator of this name, or tells who is at hand.
    pub(super) async fn operator(&mut self, name: Option<&str>) -> Answer {
        let Some(page) = self.page().await else {
            return Answer::no(SILENT);
        };
        if name.is_some() && page.status.modes.rolling.on() {
            let stays = &page.operator;
            return Answer::no(format!(
                "{stays} stays in force: the camera is rolling; end that first"
            ));
        }
        let (reply, heard) = oneshot::channel();
        let wish = match name {
            Some(name) => Wish::Named(name.to_owned(), reply),
            None => Wish::List(reply),
        };
        if !self.asker.wishes.ask(wish) {
            return Answer::no("too much was asked at once: ask again");
        }
        let words = match tokio::time::timeout(PATIENCE, heard).await {
            Ok(Ok(Ok(words))) => words,
            Ok(Ok(Err(why))) => return Answer::no(why),
            Ok(Err(_)) | Err(_) => return Answer::no(SILENT),
        };
        if name.is_none() {
            return Answer::yes(words);
        }
        // The first page may be of a turn before it was offered.
        let (Some(_), Some(page)) = (self.page().await, self.page().await) else {
            return Answer::no(SILENT);
        };
        outcome(&words, &page)
    }
}

/// What came of handing over to `name`, as a page of a turn after it tells.
fn outcome(name: &str, page: &Page) -> Answer {
    match &page.waits {
        _ if page.operator == name => Answer::yes(format!("{name} is in force")),
        Some(waits) => Answer::yes(waits.clone()),
        None => Answer::no(format!(
            "{} is in force: somebody else asked for another operator meanwhile",
            page.operator
        )),
    }
}
