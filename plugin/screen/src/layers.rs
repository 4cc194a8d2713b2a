//! The Layers page: who has which share, who leads where, what to change, and what the mix loses by whom.

mod aims;
mod loss;
mod matching;
mod plan;
mod spectrum;
mod table;
mod tools;

use crate::company;
use crate::keys::Command;
use crate::painter::Painter;
use crate::screen::{Intent, Scene, Screen};
use crate::tokens::{size, space};
use crate::words;
use egui::{Align, Align2, FontId, Layout, Rect, Ui, UiBuilder, pos2};
use plan::Plan;
use plumbline_programme::session::{LayerLine, order_key};
use plumbline_programme::{LayerId, Role, Session};

/// Order of the table.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Order {
    /// By role, then name, as the session has it.
    #[default]
    Session,
    /// The largest share over the chosen stretch first.
    Share,
    /// By name.
    Name,
}

impl Order {
    pub(crate) const ALL: [Self; 3] = [Self::Session, Self::Share, Self::Name];

    pub(crate) fn next(self) -> Self {
        match self {
            Self::Session => Self::Share,
            Self::Share => Self::Name,
            Self::Name => Self::Session,
        }
    }

    fn label(self) -> &'static str {
        match self {
            Self::Session => "Role",
            Self::Share => "Share",
            Self::Name => "Name",
        }
    }
}

/// What the lower right shows where there is no room for all of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub(crate) enum Part {
    #[default]
    Aims,
    Match,
    Loss,
}

/// What the page remembers while the window is open.
#[derive(Clone, Debug, Default)]
pub(crate) struct Memory {
    pub(crate) order: Order,
    /// The layer whose spectrum is shown; none takes the own one, or the largest.
    pub(crate) selected: Option<LayerId>,
    /// The layer that is pointed at.
    hovered: Option<LayerId>,
    part: Part,
    /// The own name while it is typed.
    pub(crate) typed: Option<String>,
    /// Whether the table has to bring the selected row into sight.
    seek: bool,
}

impl Screen {
    /// Keys of the page.
    pub(crate) fn obey_on_layers(&mut self, command: Command, session: &Session) {
        match command {
            Command::NextOrder => self.layers.order = self.layers.order.next(),
            Command::RowUp => self.step_row(session, -1),
            Command::RowDown => self.step_row(session, 1),
            _ => {}
        }
    }

    fn step_row(&mut self, session: &Session, by: isize) {
        let rows = self.rows(session);
        let at = self.layers.selected.and_then(|id| rows.iter().position(|line| line.id == id));
        let next = match at {
            Some(at) => at.saturating_add_signed(by).min(rows.len().saturating_sub(1)),
            None => 0,
        };
        self.layers.selected = rows.get(next).map(|line| line.id);
        self.layers.seek = true;
    }

    /// The layers in the order of the table.
    fn rows<'a>(&self, session: &'a Session) -> Vec<&'a LayerLine> {
        let mut rows: Vec<&LayerLine> = session.layers.iter().collect();
        let stretch = self.settings.stretch.place();
        let share = |line: &LayerLine| line.parts[stretch].share.filter(|s| !s.is_nan()).unwrap_or(-1.0);
        match self.layers.order {
            Order::Session => {}
            Order::Share => rows.sort_by(|a, b| share(b).total_cmp(&share(a))),
            Order::Name => rows.sort_by_cached_key(|line| order_key(&company::name(line).to_lowercase())),
        }
        rows
    }

    /// The layer whose spectrum is shown: pointed at, selected, the own one, or the one with the largest share.
    fn shown_layer<'a>(&self, session: &'a Session) -> Option<&'a LayerLine> {
        let own = || company::parts(session).find(|line| line.own);
        let largest = || {
            let share = |line: &&LayerLine| line.parts[0].share.unwrap_or(-1.0);
            company::parts(session).max_by(|a, b| share(a).total_cmp(&share(b)))
        };
        let by_id = |id: Option<LayerId>| id.and_then(|id| session.layer(id));
        by_id(self.layers.hovered).or_else(|| by_id(self.layers.selected)).or_else(own).or_else(largest)
    }

    pub(crate) fn rename(&mut self, name: &str) {
        self.intents.push(Intent::Rename(within_bounds(name)));
    }

    /// Takes the name that is being typed, also when its field is about to go.
    pub(crate) fn settle_name(&mut self) {
        if let Some(typed) = self.layers.typed.take() {
            self.rename(typed.trim());
        }
    }
}

/// A name cut to the bytes that travel, between letters.
pub(crate) fn within_bounds(name: &str) -> String {
    within_bytes(name, crate::LONGEST_NAME)
}

/// A text cut to so many bytes, between letters.
pub(crate) fn within_bytes(text: &str, most: usize) -> String {
    let mut end = text.len().min(most);
    while !text.is_char_boundary(end) {
        end -= 1;
    }
    text[..end].to_owned()
}

/// Paints the page.
pub(crate) fn layers_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>) {
    let session = &*scene.view.session;
    let rows = session.layers.len();
    let plan = Plan::new(&scene.plan, ui.max_rect(), rows);
    tools::tools_ui(screen, ui, painter, scene, plan.tools);
    if !company::has_layers(session) {
        nobody_ui(screen, ui, painter, scene, plan.rest());
        return;
    }
    screen.layers.hovered = table::table_ui(screen, ui, painter, scene, plan.table);
    spectrum::spectrum_ui(screen, ui, painter, scene, plan.spectrum);
    if let Some(rect) = plan.matching {
        matching::match_ui(screen, ui, painter, scene, rect);
    }
    if let Some([aims, loss]) = plan.side {
        aims::aims_ui(screen, ui, painter, scene, aims);
        loss::loss_ui(ui, painter, scene, loss);
    }
    if let Some(rect) = plan.one {
        let rect = tools::parts_ui(screen, ui, rect);
        match screen.layers.part {
            Part::Aims => aims::aims_ui(screen, ui, painter, scene, rect),
            Part::Match => matching::match_ui(screen, ui, painter, scene, rect),
            Part::Loss => loss::loss_ui(ui, painter, scene, rect),
        }
    }
}

/// What to do so that layers hear each other, or can be compared; where a role is all that is missing, it is set here.
fn nobody_ui(screen: &mut Screen, ui: &mut Ui, painter: &Painter, scene: &Scene<'_>, rect: Rect) {
    if !rect.is_positive() {
        return;
    }
    let (theme, session) = (scene.theme, &*scene.view.session);
    painter.block(rect, theme.panel);
    let [head, body] = words::nobody(scene.info.role, scene.info.session, session);
    let said = format!("{head}. {body}");
    let width = (rect.width() - 4.0 * space::GAP).clamp(1.0, 560.0);
    let left = rect.center().x - width / 2.0;
    let head = painter.egui.layout(head, FontId::proportional(size::HEAD), theme.text, width);
    let body = painter.egui.layout(body, FontId::proportional(size::BODY), theme.text, width);
    let choice = if company::only_mixes(session) { space::GAP + space::BUTTON } else { 0.0 };
    let height = head.size().y + body.size().y + space::GAP + choice;
    if height > rect.height() {
        return;
    }
    let top = rect.center().y - height / 2.0;
    let under = top + head.size().y + space::GAP;
    painter.put(pos2(left, top), Align2::LEFT_TOP, head);
    let text = painter.put(pos2(left, under), Align2::LEFT_TOP, body);
    crate::painter::name_only(ui, Rect::from_min_max(pos2(left, top), text.max), "nobody", || said.clone());
    if choice > 0.0 {
        let row =
            Rect::from_min_size(pos2(left, text.bottom() + space::GAP), egui::vec2(width, space::BUTTON));
        let builder = UiBuilder::new().id_salt("role here").max_rect(row);
        let mut place = ui.new_child(builder.layout(Layout::left_to_right(Align::Center)));
        if let Some(role) = role_combo(&mut place, "role where nobody has one", scene.info.role, 100.0) {
            screen.intents.push(Intent::SetRole(role));
        }
    }
}

/// The colour that a layer wears: its host's, if the user wants that, else its role's.
pub(crate) fn ink(screen: &Screen, scene: &Scene<'_>, line: &LayerLine) -> crate::tokens::Ink {
    match line.identity.colour {
        Some(given) if screen.settings.track_colour => scene.theme.given(given),
        _ => scene.theme.role(line.identity.role),
    }
}

/// A title of a block, in its upper left corner.
fn title(painter: &Painter, rect: Rect, text: &str) -> Rect {
    let at = pos2(rect.left() + space::INSET, rect.top() + space::NEAR + space::LINE / 2.0);
    let galley =
        crate::header::fitted(painter, text, size::SMALL, (rect.width() - 2.0 * space::INSET).max(0.0));
    painter.put(at, Align2::LEFT_CENTER, galley);
    Rect::from_min_max(
        pos2(rect.left() + space::INSET, rect.top() + space::NEAR + space::LINE + 2.0),
        rect.max - egui::vec2(space::INSET, space::NEAR),
    )
}

/// The choice of a role: all six, each with what it is for.
pub(crate) fn role_combo(ui: &mut Ui, salt: &str, role: Role, width: f32) -> Option<Role> {
    let mut chosen = None;
    let combo =
        egui::ComboBox::from_id_salt(salt).selected_text(role.name()).width(width).show_ui(ui, |ui| {
            for other in Role::ALL {
                if ui.selectable_label(other == role, other.name()).on_hover_text(role_tip(other)).clicked() {
                    chosen = Some(other);
                }
            }
        });
    combo.response.on_hover_text("What this layer holds").accessible_name("Role of this layer");
    chosen
}

fn role_tip(role: Role) -> &'static str {
    match role {
        Role::Natural => "Sound of the place, recorded there",
        Role::Foley => "Sound performed against picture",
        Role::Design => "Designed effects",
        Role::Voice => "Speech",
        Role::Music => "Music",
        Role::Mix => "The sum of layers: it has no share in itself",
    }
}
