//! Notifications of the desktop, with actions where it has them.
//!
//! The service may not be there (no bus, no daemon): that fails at once. It may hang: then the
//! call never returns, and neither does this way's thread, which is why it has one. Repeats
//! replace the notification they repeat.

use std::collections::BTreeMap;
use std::sync::mpsc::{self, Sender};
use std::thread;
use std::time::Duration;

use notify_rust::{Notification, NotificationHandle, Timeout, Urgency};

use super::{Press, Ring, Way, WayError};
use crate::alarm::{Key, Priority, Task, WayName};
use crate::firing::{Kind, Seen};

/// A notification service answers within milliseconds.
const LIMIT: Duration = Duration::from_secs(3);
/// How long the word that an alarm is over stays.
const SETTLED_FOR_MS: u32 = 4000;

const ACKNOWLEDGE: &str = "acknowledge";
/// What can be seen of the target, in the words of the trade.
const SEEN: [(&str, &str, Seen); 3] = [
    ("seen_standing", "Standing", Seen::Standing),
    ("seen_leaning", "Leaning", Seen::Leaning),
    ("seen_down", "Down", Seen::Down),
];

/// One notification that is on the desktop.
struct Shown {
    id: u32,
    headline: String,
    /// Hears when the waiting for an action is over.
    over: mpsc::Receiver<()>,
}

pub struct Desktop {
    presses: Sender<Press>,
    shown: BTreeMap<Key, Shown>,
    has_actions: Option<bool>,
}

impl std::fmt::Debug for Desktop {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Desktop").field("shown", &self.shown.len()).finish()
    }
}

impl Desktop {
    /// `presses` hears what somebody presses on a notification.
    pub fn new(presses: Sender<Press>) -> Desktop {
        Desktop { presses, shown: BTreeMap::new(), has_actions: None }
    }

    /// Whether the desktop shows actions; asked once.
    fn has_actions(&mut self) -> Result<bool, WayError> {
        if let Some(known) = self.has_actions {
            return Ok(known);
        }
        let capabilities = notify_rust::get_capabilities().map_err(failed)?;
        let has = capabilities.iter().any(|capability| capability == "actions");
        self.has_actions = Some(has);
        Ok(has)
    }
}

fn failed(error: notify_rust::error::Error) -> WayError {
    WayError::failed("the desktop's notification service", error)
}

impl Way for Desktop {
    fn name(&self) -> WayName {
        WayName::Desktop
    }

    fn limit(&self) -> Duration {
        LIMIT
    }

    fn ring(&mut self, ring: &Ring) -> Result<String, WayError> {
        self.shown.retain(|_, shown| shown.over.try_recv() == Err(mpsc::TryRecvError::Empty));
        let mut notification = Notification::new();
        notification
            .appname("spyhole")
            .summary(&ring.headline)
            .body(&ring.body)
            .urgency(urgency(ring.call.priority))
            .timeout(Timeout::Never);
        let Some(first) = ring.call.alarms.first().map(|alarm| alarm.key) else {
            // A test: nothing to answer, and nothing to come back to.
            notification.show().map_err(failed)?;
            return Ok("desktop notification".into());
        };
        let asks = ring.call.alarms.len() == 1 && asks_for_a_look(first.task);
        if self.has_actions()? {
            if asks {
                for (action, label, _) in SEEN {
                    notification.action(action, label);
                }
            }
            notification.action(ACKNOWLEDGE, "Acknowledge");
        }
        let replaced = self.shown.get(&first).map(|shown| shown.id);
        if let Some(id) = replaced {
            notification.id(id);
        }
        let handle = notification.show().map_err(failed)?;
        // Whoever waits for the actions of the one that was replaced waits for this one's.
        if replaced != Some(handle.id()) {
            let keys = ring.call.alarms.iter().map(|alarm| alarm.key).collect();
            let (id, headline) = (handle.id(), ring.headline.clone());
            let over = wait_for_press(handle, (keys, asks), self.presses.clone());
            self.shown.insert(first, Shown { id, headline, over });
        }
        Ok("desktop notification".into())
    }

    fn settle(&mut self, key: Key) {
        let Some(shown) = self.shown.remove(&key) else { return };
        // The alarm is over: if the desktop is gone too, nothing is left to take away.
        let _ = Notification::new()
            .appname("spyhole")
            .id(shown.id)
            .summary(&format!("Answered: {}", shown.headline))
            .urgency(Urgency::Low)
            .timeout(Timeout::Milliseconds(SETTLED_FOR_MS))
            .show();
    }
}

/// Whether a look would answer the alarm.
fn asks_for_a_look(task: Task) -> bool {
    task.rule().answered_by.contains(&Kind::Look)
}

fn urgency(priority: Priority) -> Urgency {
    match priority {
        Priority::Highest | Priority::High => Urgency::Critical,
        Priority::Medium => Urgency::Normal,
        Priority::Low => Urgency::Low,
    }
}

/// Waits, on a thread of its own, until somebody presses an action or the notification is gone.
fn wait_for_press(
    handle: NotificationHandle,
    (keys, asks): (Vec<Key>, bool),
    presses: Sender<Press>,
) -> mpsc::Receiver<()> {
    let (tell, over) = mpsc::channel();
    let waiting = thread::Builder::new().spawn(move || {
        handle.wait_for_action(|action| {
            // A desktop may name an action that was not offered.
            let seen = SEEN.iter().find(|(name, ..)| asks && *name == action);
            let press = match (seen, keys.first()) {
                (Some((.., seen)), Some(key)) => Some(Press::Saw(*key, *seen)),
                _ if action == ACKNOWLEDGE => Some(Press::Acknowledge(keys)),
                _ => None,
            };
            if let Some(press) = press {
                // Nobody listens any more when the program is ending.
                let _ = presses.send(press);
            }
        });
        drop(tell);
    });
    // Without a thread nothing that is pressed is heard.
    drop(waiting);
    over
}
