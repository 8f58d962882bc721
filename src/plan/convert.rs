//! From a plan in the program to a plan as its file has it, and back: the same plan with every length mapped.
//!
//! Holds only the walk over the types; what a number in a file means, and how it is refused, is `file`'s business. The
//! mapping is given the length and nothing else, so no length of a plan can be treated differently from another.

use super::{
    Cut, GlueSheet, GlueUp, Leaf, Member, Movement, Node, OffcutRow, Plan, PlanerBatch, PullRow, Rectangle, RoughRow,
    SettingRow, Size, StockUse, Work,
};

type Mapped<T, E> = Result<T, E>;

fn each<T, U, E>(list: &[T], mut map: impl FnMut(&T) -> Mapped<U, E>) -> Mapped<Vec<U>, E> {
    list.iter().map(&mut map).collect()
}

impl<L> Plan<L> {
    /// The same plan with every length replaced by `map` of it.
    ///
    /// # Errors
    /// The first error of `map`.
    pub fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Plan<M>, E> {
        Ok(Plan {
            format: self.format.clone(),
            units: self.units,
            title: self.title.clone(),
            status: self.status,
            stop: self.stop,
            cost: self.cost.clone(),
            broken: self.broken.clone(),
            bound: self.bound.clone(),
            gap: self.gap,
            proven: self.proven,
            proof: self.proof.clone(),
            seed: self.seed,
            run: self.run.clone(),
            pieces_required: self.pieces_required,
            pieces_placed: self.pieces_placed,
            stock: each(&self.stock, |u| u.try_map(map))?,
            glueups: each(&self.glueups, |g| g.try_map(map))?,
            shortages: self.shortages.clone(),
            cautions: self.cautions.clone(),
            cuts: each(&self.cuts, |c| c.try_map(map))?,
            work: self.work.try_map(map)?,
            offcuts: each(&self.offcuts, |o| o.try_map(map))?,
            weights: self.weights.clone(),
        })
    }
}

impl<L> StockUse<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<StockUse<M>, E> {
        Ok(StockUse {
            id: self.id.clone(),
            copy: self.copy,
            kind: self.kind,
            cost: self.cost.clone(),
            credit: self.credit.clone(),
            tree: self.tree.try_map(map)?,
        })
    }
}

impl<L> Node<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Node<M>, E> {
        Ok(Node {
            x: map(&self.x)?,
            y: map(&self.y)?,
            length: map(&self.length)?,
            width: map(&self.width)?,
            role: self.role,
            cut: self.cut,
            children: each(&self.children, |c| c.try_map(map))?,
            credit: self.credit.clone(),
            part: self.part.clone(),
            copy: self.copy,
            layer: self.layer,
            stave: self.stave,
            thickness: self.thickness.as_ref().map(map).transpose()?,
            turned: self.turned,
            leaves: each(&self.leaves, |l| l.try_map(map))?,
            net: self.net.as_ref().map(|n| n.try_map(map)).transpose()?,
        })
    }
}

impl<L> Leaf<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Leaf<M>, E> {
        Ok(Leaf {
            part: self.part.clone(),
            copy: self.copy,
            layer: self.layer,
            stave: self.stave,
            thickness: map(&self.thickness)?,
        })
    }
}

impl<L> Rectangle<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Rectangle<M>, E> {
        Ok(Rectangle { x: map(&self.x)?, y: map(&self.y)?, length: map(&self.length)?, width: map(&self.width)? })
    }
}

impl<L> GlueUp<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<GlueUp<M>, E> {
        Ok(GlueUp {
            part: self.part.clone(),
            copy: self.copy,
            kind: self.kind,
            members: each(&self.members, |m| m.try_map(map))?,
            sheet: self.sheet.as_ref().map(|s| s.try_map(map)).transpose()?,
        })
    }
}

impl<L> GlueSheet<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<GlueSheet<M>, E> {
        Ok(GlueSheet {
            glued: self.glued.try_map(map)?,
            trimmed: self.trimmed.try_map(map)?,
            to_trim: map(&self.to_trim)?,
            excess: map(&self.excess)?,
            joints: self.joints,
            glue_area: self.glue_area,
            clamps_in_row: self.clamps_in_row,
            clamp_rows: self.clamp_rows,
            movement: self.movement.as_ref().map(|m| m.try_map(map)).transpose()?,
            pounds: self.pounds,
            steps: self.steps.clone(),
        })
    }
}

impl<L> Size<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Size<M>, E> {
        Ok(Size { length: map(&self.length)?, width: map(&self.width)?, thickness: map(&self.thickness)? })
    }
}

impl<L> Movement<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Movement<M>, E> {
        Ok(Movement {
            quartersawn: self.quartersawn,
            built: self.built,
            dry: self.dry,
            damp: self.damp,
            dry_change: map(&self.dry_change)?,
            damp_change: map(&self.damp_change)?,
        })
    }
}

impl<L> Member<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Member<M>, E> {
        Ok(Member {
            stock: self.stock.clone(),
            stock_copy: self.stock_copy,
            x: map(&self.x)?,
            y: map(&self.y)?,
            stave: self.stave,
            layer: self.layer,
            net_width: self.net_width.as_ref().map(map).transpose()?,
            face_up: self.face_up,
        })
    }
}

impl<L> Cut<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Cut<M>, E> {
        Ok(Cut {
            number: self.number,
            stock: self.stock.clone(),
            stock_copy: self.stock_copy,
            station: self.station,
            cut: self.cut,
            at: map(&self.at)?,
            to: map(&self.to)?,
            from_edge: map(&self.from_edge)?,
            to_edge: map(&self.to_edge)?,
            setting: self.setting.as_ref().map(map).transpose()?,
            what: self.what.clone(),
        })
    }
}

impl<L> Work<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<Work<M>, E> {
        Ok(Work {
            pull: each(&self.pull, |r| r.try_map(map))?,
            rough: each(&self.rough, |r| r.try_map(map))?,
            planer: each(&self.planer, |r| r.try_map(map))?,
            rips: each(&self.rips, |r| r.try_map(map))?,
            crosscuts: each(&self.crosscuts, |r| r.try_map(map))?,
            sticks: each(&self.sticks, |r| r.try_map(map))?,
        })
    }
}

impl<L> PullRow<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<PullRow<M>, E> {
        Ok(PullRow {
            stock: self.stock.clone(),
            stock_copy: self.stock_copy,
            kind: self.kind,
            wood: self.wood.clone(),
            thickness: map(&self.thickness)?,
            width: map(&self.width)?,
            length: map(&self.length)?,
            makes: self.makes.clone(),
            remarks: self.remarks.clone(),
        })
    }
}

impl<L> RoughRow<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<RoughRow<M>, E> {
        Ok(RoughRow {
            stock: self.stock.clone(),
            stock_copy: self.stock_copy,
            from: map(&self.from)?,
            to: map(&self.to)?,
            cuts: self.cuts.clone(),
            makes: self.makes.clone(),
        })
    }
}

impl<L> PlanerBatch<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<PlanerBatch<M>, E> {
        Ok(PlanerBatch {
            thickness: map(&self.thickness)?,
            wood: self.wood.clone(),
            parts: self.parts.clone(),
            blanks: self.blanks,
        })
    }
}

impl<L> SettingRow<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<SettingRow<M>, E> {
        Ok(SettingRow { setting: map(&self.setting)?, cuts: self.cuts.clone(), makes: self.makes.clone() })
    }
}

impl<L> OffcutRow<L> {
    fn try_map<M, E>(&self, map: &dyn Fn(&L) -> Mapped<M, E>) -> Mapped<OffcutRow<M>, E> {
        Ok(OffcutRow {
            stock: self.stock.clone(),
            stock_copy: self.stock_copy,
            x: map(&self.x)?,
            y: map(&self.y)?,
            length: map(&self.length)?,
            width: map(&self.width)?,
            credit: self.credit.clone(),
        })
    }
}
