import type { Region } from './model.ts';

/**
 * What every input does in every state of every region, no-ops included: an input is in a state's `rows`, in its
 * `ignores`, or in the region's `never`. XState ignores in silence, so what isn't written here fails the test.
 *
 * Outcomes: `-> state` moves (through raised events and eventless steps to where it comes to rest), `again` starts the
 * same state over, `acts` without moving, `ignored`. Words in brackets name circumstances other than the state's usual
 * ones (`variants.ts`). Timers and failed invokes are inputs only in the states that have them.
 */
export interface StateRows {
  rows: string;
  ignores: string;
}

export const table: Record<Region, { never: string; states: Record<string, StateRows> }> = {
  facts: {
    never: `
      DOUBLE HOLD PRESS TAKE body.begun coil.failed coil.off coil.on develop.done develop.failed frame.fit note.missed note.refused note.unkept recall.done recall.failed
      service.jog service.load service.loaded service.new-roll service.reprint
    `,
    states: {
      listening: {
        rows: `
          album.asked        acts
          album.healed       acts
          album.opened       acts
          album.trouble      acts
          body.done          acts
          body.stopped       acts
          contact.broken     acts
          contact.made       acts
          feed.done          acts
          feed.stopped       acts
          keep.done          acts
          keep.failed        acts
          mark.done          acts
          mark.failed        acts
          printer.condition  acts
          service.close      -> closed
          supply.voltage     acts
          tail.done          acts
          tail.stopped       acts
          webcam.lost        acts
          webcam.ready       acts
        `,
        ignores: ``,
      },
    },
  },
  button: {
    never: `
      DOUBLE HOLD PRESS TAKE album.asked album.healed album.opened album.trouble body.begun body.done body.stopped
      coil.failed coil.off coil.on develop.done develop.failed feed.done feed.stopped frame.fit keep.done
      keep.failed mark.done mark.failed note.missed note.refused note.unkept printer.condition recall.done
      recall.failed service.jog service.load service.loaded service.new-roll service.reprint
      supply.voltage tail.done tail.stopped webcam.lost webcam.ready
    `,
    states: {
      open: {
        rows: `
          contact.made   -> settling.made
          service.close  -> closed
        `,
        ignores: `contact.broken`,
      },
      'settling.made': {
        rows: `
          contact.broken                                               -> settling.broken
          contact.broken [heard late, still before by the stamps]        -> held.letting
          contact.broken [heard late, still before, soon after a press]  -> held.letting
          contact.broken [heard late, still before, in loading]          -> held.letting
          contact.made                                                 again
          service.close                                                -> closed
          after settle                                                 -> held.pressed
          after settle [soon after a press, a double means nothing]    -> held.pressed
          after settle [soon after a press, a double means something]  -> held.pressed
          after settle [long after a press, a double means something]  -> held.pressed
          after settle [in loading]                                    -> held.pressed
        `,
        ignores: ``,
      },
      'settling.broken': {
        rows: `
          contact.broken                                         again
          contact.made                                           -> settling.made
          contact.made [heard late, still before by the stamps]  -> settling.made
          service.close                                          -> closed
          after settle                                           -> open
        `,
        ignores: ``,
      },
      'held.pressed': {
        rows: `
          contact.broken  -> held.letting
          service.close   -> closed
          after hold      acts
        `,
        ignores: `contact.made`,
      },
      'held.letting': {
        rows: `
          contact.broken  again
          contact.made    -> held.pressed
          contact.made [heard late, still before by the stamps]  -> settling.made
          service.close   -> closed
          after settle    -> open
          after hold      acts
        `,
        ignores: ``,
      },
    },
  },
  exposure: {
    never: `
      DOUBLE HOLD album.asked album.healed body.begun body.done body.stopped contact.broken contact.made develop.done
      develop.failed feed.done feed.stopped mark.done mark.failed note.missed note.refused note.unkept
      printer.condition recall.done recall.failed service.jog service.load service.loaded service.new-roll
      service.reprint supply.voltage tail.done tail.stopped
    `,
    states: {
      warming: {
        rows: `
          TAKE                            acts
          album.opened [webcam streams]   -> ready
          album.trouble [webcam streams]  -> ready
          service.close                   -> closed
          webcam.lost                     -> blind
          webcam.ready                    -> ready
          webcam.ready [album not known]  ignored
        `,
        ignores: `PRESS album.opened album.trouble coil.failed coil.off coil.on frame.fit keep.done keep.failed`,
      },
      blind: {
        rows: `
          TAKE                            acts
          album.opened [webcam streams]   -> ready
          service.close                   -> closed
          webcam.ready                    -> ready
          webcam.ready [album not known]  ignored
        `,
        ignores: `
          PRESS album.opened album.trouble coil.failed coil.off coil.on frame.fit keep.done keep.failed
          webcam.lost
        `,
      },
      ready: {
        rows: `
          PRESS                  -> firing
          TAKE                   -> firing
          TAKE [queue full]      acts
          TAKE [one place left]  -> firing
          TAKE [supply low]      acts
          service.close          -> closed
          webcam.lost            -> blind
        `,
        ignores: `album.opened album.trouble coil.failed coil.off coil.on frame.fit keep.done keep.failed webcam.ready`,
      },
      firing: {
        rows: `
          TAKE          acts
          coil.failed   -> grabbing
          coil.off      -> grabbing
          coil.on       acts
          error stroke  -> grabbing
        `,
        ignores: `
          PRESS album.opened album.trouble frame.fit keep.done keep.failed service.close webcam.lost
          webcam.ready
        `,
      },
      grabbing: {
        rows: `
          TAKE                acts
          frame.fit           -> keeping
          webcam.lost         -> locked
          error grab          -> locked
          after frameTimeout  -> locked
        `,
        ignores: `
          PRESS album.opened album.trouble coil.failed coil.off coil.on keep.done keep.failed service.close
          webcam.ready
        `,
      },
      keeping: {
        rows: `
          TAKE                                  acts
          keep.done                             -> answering
          keep.done [of another picture]        ignored
          keep.done [more of a burst]           -> grabbing
          keep.done [part of the burst unsafe]  -> locked
          keep.done [no first stroke was given]  -> locked
          keep.failed                           -> locked
          keep.failed [of another picture]      ignored
          keep.failed [more of a burst]         -> grabbing
          after keep                            -> locked
        `,
        ignores: `
          PRESS album.opened album.trouble coil.failed coil.off coil.on frame.fit service.close webcam.lost
          webcam.ready
        `,
      },
      answering: {
        rows: `
          TAKE          acts
          coil.failed   -> locked
          coil.off      -> locked
          coil.on       acts
          error stroke  -> locked
        `,
        ignores: `
          PRESS album.opened album.trouble frame.fit keep.done keep.failed service.close webcam.lost
          webcam.ready
        `,
      },
      locked: {
        rows: `
          TAKE                         acts
          service.close                -> closed
          after lockout                -> ready
          after lockout [webcam gone]  -> blind
        `,
        ignores: `
          PRESS album.opened album.trouble coil.failed coil.off coil.on frame.fit keep.done keep.failed
          webcam.lost webcam.ready
        `,
      },
    },
  },
  output: {
    never: `
      DOUBLE HOLD PRESS TAKE album.trouble coil.failed coil.off coil.on contact.broken contact.made
      feed.done feed.stopped note.missed note.refused note.unkept service.jog service.load service.loaded
      service.new-roll webcam.lost webcam.ready
    `,
    states: {
      idle: {
        rows: `
          album.asked                                       -> recalling
          album.healed [one set aside]                      -> recalling
          album.opened [a picture to print]                 -> recalling
          album.opened [a tail to print]                    -> presenting
          album.opened [a tail to print, printer troubled]  -> waiting.troubled
          frame.fit [exposure is grabbing]                  -> developing
          service.close                                     -> closed
          service.reprint [one printed before]              -> developing
        `,
        ignores: `
          album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed printer.condition recall.done recall.failed
          service.reprint supply.voltage tail.done tail.stopped
        `,
      },
      biding: {
        rows: `
          album.asked                           -> recalling
          album.healed                          -> recalling
          album.opened [a picture to print]     -> recalling
          frame.fit [exposure is grabbing]      -> developing
          service.close                         -> closed
          service.reprint [one printed before]  -> developing
          after biding                          -> recalling
          after biding [service is busy]        -> idle
        `,
        ignores: `
          album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit keep.done keep.failed
          mark.done mark.failed printer.condition recall.done recall.failed service.reprint supply.voltage tail.done
          tail.stopped
        `,
      },
      recalling: {
        rows: `
          recall.done    -> developing
          recall.failed  -> biding
          service.close  -> closed
          error recall   -> biding
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed printer.condition service.reprint supply.voltage
          tail.done tail.stopped
        `,
      },
      developing: {
        rows: `
          develop.done                     -> printing
          develop.done [printer troubled]  -> waiting.troubled
          develop.done [service is busy]   -> idle
          develop.failed                   -> biding
          develop.failed [another waits]   again
          develop.failed [for the eighth time, safe in the album]  -> idle
          develop.failed [for the eighth time, only in memory]  -> idle
          service.close                    -> closed
          error develop                    -> biding
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped frame.fit keep.done keep.failed
          mark.done mark.failed printer.condition recall.done recall.failed service.reprint supply.voltage
          tail.done tail.stopped
        `,
      },
      resting: {
        rows: `
          service.close                  -> closed
          after rest                     -> printing
          after rest [printer troubled]  -> waiting.troubled
          after rest [service is busy]   -> idle
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed printer.condition recall.done recall.failed
          service.reprint supply.voltage tail.done tail.stopped
        `,
      },
      'waiting.troubled': {
        rows: `
          printer.condition               -> waiting.healing
          printer.condition [of trouble]  acts
          service.close                   -> closed
          supply.voltage                  acts
          supply.voltage [low]            acts
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed recall.done recall.failed service.reprint tail.done
          tail.stopped
        `,
      },
      'waiting.healing': {
        rows: `
          printer.condition               acts
          printer.condition [of trouble]  -> waiting.troubled
          service.close                   -> closed
          supply.voltage                  acts
          supply.voltage [low]            -> waiting.troubled
          after healed                    -> printing
          after healed [service is busy]  -> idle
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed recall.done recall.failed service.reprint tail.done
          tail.stopped
        `,
      },
      printing: {
        rows: `
          body.begun                       acts
          body.done                        -> sealing.marking
          body.done [kept is not known]    -> sealing.unsure
          body.done [only in memory]       -> sealing.marking
          body.done [printed once more]    -> presenting
          body.done [number is not sure]  -> presenting
          body.stopped                     -> waiting.healing
          body.stopped [printer troubled]  -> waiting.troubled
          error body                       -> waiting.healing
          error body [printer troubled]    -> waiting.troubled
        `,
        ignores: `
          album.asked album.healed album.opened develop.done develop.failed frame.fit keep.done keep.failed mark.done
          mark.failed printer.condition recall.done recall.failed service.close service.reprint supply.voltage
          tail.done tail.stopped
        `,
      },
      'sealing.unsure': {
        rows: `
          keep.done                         -> sealing.marking
          keep.done [of another picture]    ignored
          keep.failed                       -> sealing.marking
          keep.failed [of another picture]  ignored
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          mark.done mark.failed printer.condition recall.done recall.failed service.close service.reprint
          supply.voltage tail.done tail.stopped
        `,
      },
      'sealing.marking': {
        rows: `
          mark.done                           -> presenting
          mark.done [of another picture]      ignored
          mark.done [not the closing mark]    ignored
          mark.failed                         -> sealing.unwritten
          mark.failed [only in memory]  -> presenting
          mark.failed [of another picture]    ignored
          mark.failed [not the closing mark]  ignored
          after mark                          ignored
          after mark [only in memory]         -> presenting
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed printer.condition recall.done recall.failed service.close service.reprint
          supply.voltage tail.done tail.stopped
        `,
      },
      'sealing.unwritten': {
        rows: `
          album.healed                    -> sealing.marking
          service.close                   -> closed
          after markAgain                 -> sealing.marking
          after markAgain [for a minute]  -> presenting
        `,
        ignores: `
          album.asked album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit keep.done
          keep.failed mark.done mark.failed printer.condition recall.done recall.failed service.reprint supply.voltage
          tail.done tail.stopped
        `,
      },
      presenting: {
        rows: `
          tail.done                        -> filing.marking
          tail.done [number is not sure]       -> idle
          tail.done [number is not sure, another waits]  -> developing
          tail.stopped                     -> waiting.healing
          tail.stopped [printer troubled]  -> waiting.troubled
          error tail                       -> waiting.healing
        `,
        ignores: `
          album.asked album.healed album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit
          keep.done keep.failed mark.done mark.failed printer.condition recall.done recall.failed
          service.close service.reprint supply.voltage
        `,
      },
      'filing.marking': {
        rows: `
          mark.done                           -> idle
          mark.done [another waits]           -> developing
          mark.done [of another picture]      ignored
          mark.done [the closing mark]        ignored
          mark.failed                         -> filing.unwritten
          mark.failed [only in memory]        -> idle
          mark.failed [of another picture]    ignored
          mark.failed [the closing mark]      ignored
          after mark                          ignored
          after mark [only in memory]         -> idle
        `,
        ignores: `
          album.asked album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit keep.done
          keep.failed printer.condition recall.done recall.failed service.reprint supply.voltage
          tail.done tail.stopped album.healed service.close
        `,
      },
      'filing.unwritten': {
        rows: `
          album.healed                    -> filing.marking
          service.close                   -> closed
          after markAgain                 -> filing.marking
          after markAgain [for a minute]  -> idle
        `,
        ignores: `
          album.asked album.opened body.begun body.done body.stopped develop.done develop.failed frame.fit keep.done
          keep.failed printer.condition recall.done recall.failed service.reprint supply.voltage
          tail.done tail.stopped mark.done mark.failed
        `,
      },
    },
  },
  service: {
    never: `
      TAKE album.asked album.healed album.opened album.trouble body.begun body.done coil.failed coil.off coil.on
      contact.broken contact.made develop.done develop.failed frame.fit keep.failed mark.done mark.failed
      note.missed note.refused note.unkept recall.done recall.failed supply.voltage tail.done tail.stopped
      webcam.lost webcam.ready
    `,
    states: {
      idle: {
        rows: `
          DOUBLE [double reprints]                 acts
          HOLD                                     -> loading.open
          HOLD [hold does nothing]                 ignored
          HOLD [hold closes, picture being taken]  -> closing
          HOLD [hold counts a roll]                acts
          PRESS                                    acts
          PRESS [press feeds]                      -> jogging.forward
          service.close                            -> closed
          service.close [picture being taken]      -> closing
          service.close [an answer is owed]        -> closing
          service.jog                              -> jogging.forward
          service.jog [paper in use]               -> jogging.pending
          service.jog [back]                       -> jogging.back
          service.load                             -> loading.open
          service.load [paper in use]              -> loading.pending
          service.new-roll                         acts
          service.reprint                          acts
        `,
        ignores: `DOUBLE body.stopped feed.done feed.stopped keep.done printer.condition service.loaded`,
      },
      'jogging.pending': {
        rows: `
          PRESS          acts
          body.stopped   -> jogging.forward
          service.close  -> closing
        `,
        ignores: `
          DOUBLE HOLD feed.done feed.stopped keep.done printer.condition service.jog service.load
          service.loaded service.new-roll service.reprint
        `,
      },
      'jogging.forward': {
        rows: `
          PRESS          acts
          feed.done      -> idle
          feed.stopped   -> idle
          service.close  -> closed
          error feed     -> idle
        `,
        ignores: `
          DOUBLE HOLD body.stopped keep.done printer.condition service.jog service.load service.loaded
          service.new-roll service.reprint
        `,
      },
      'jogging.back': {
        rows: `
          PRESS          acts
          feed.done      -> idle
          feed.stopped   -> idle
          service.close  -> closed
          error feed     -> idle
        `,
        ignores: `
          DOUBLE HOLD body.stopped keep.done printer.condition service.jog service.load service.loaded
          service.new-roll service.reprint
        `,
      },
      'loading.pending': {
        rows: `
          HOLD            -> idle
          PRESS           acts
          body.stopped    -> loading.open
          service.close   -> closing
          service.loaded  -> idle
        `,
        ignores: `
          DOUBLE feed.done feed.stopped keep.done printer.condition service.jog service.load service.new-roll
          service.reprint
        `,
      },
      'loading.open': {
        rows: `
          DOUBLE                             -> loading.back
          HOLD                               -> idle
          HOLD [roll was touched]            -> idle
          PRESS                              -> loading.forward
          printer.condition                  again
          printer.condition [paper was out]  -> loading.intake
          printer.condition [of trouble]     again
          service.close                      -> closed
          service.jog                        -> loading.forward
          service.jog [back]                 -> loading.back
          service.loaded                     -> idle
          after loadingIdle                  -> idle
          after loadingIdle [paper was out]  ignored
        `,
        ignores: `
          body.stopped feed.done feed.stopped keep.done service.load service.new-roll
          service.reprint
        `,
      },
      'loading.forward': {
        rows: `
          DOUBLE                                acts
          HOLD                                  -> idle
          PRESS                                 acts
          feed.done                             -> loading.open
          feed.done [back was asked meanwhile]  -> loading.back
          feed.stopped                          -> loading.open
          service.close                         -> closed
          service.loaded                        -> idle
          error feed                            -> loading.open
        `,
        ignores: `body.stopped keep.done printer.condition service.jog service.load service.new-roll service.reprint`,
      },
      'loading.back': {
        rows: `
          HOLD            -> idle
          PRESS           acts
          feed.done       -> loading.open
          feed.stopped    -> loading.open
          service.close   -> closed
          service.loaded  -> idle
          error feed      -> loading.open
        `,
        ignores: `
          DOUBLE body.stopped keep.done printer.condition service.jog service.load service.new-roll
          service.reprint
        `,
      },
      'loading.intake': {
        rows: `
          HOLD            -> idle
          PRESS           acts
          feed.done       -> loading.open
          feed.stopped    -> loading.open
          service.close   -> closed
          service.loaded  -> idle
          error feed      -> loading.open
        `,
        ignores: `
          DOUBLE body.stopped keep.done printer.condition service.jog service.load service.new-roll
          service.reprint
        `,
      },
      closing: {
        rows: `
          PRESS                         acts
          keep.done [last answer owed]  -> closed
          service.close                 -> closed
          after closing                 -> closed
        `,
        ignores: `
          DOUBLE HOLD body.stopped feed.done feed.stopped keep.done printer.condition service.jog service.load
          service.loaded service.new-roll service.reprint
        `,
      },
    },
  },
  notice: {
    never: `
      DOUBLE HOLD PRESS TAKE album.asked album.healed album.opened album.trouble body.begun body.done body.stopped
      coil.failed coil.off coil.on contact.broken contact.made develop.done develop.failed feed.done
      feed.stopped frame.fit keep.done keep.failed mark.done mark.failed printer.condition recall.done
      recall.failed service.jog service.load service.loaded service.new-roll supply.voltage tail.done
      tail.stopped webcam.lost webcam.ready
    `,
    states: {
      quiet: {
        rows: `
          note.missed                           -> missed
          note.refused                          -> refused
          note.unkept                           -> unkept
          service.close                         -> closed
          service.reprint                       -> refused
          service.reprint [one printed before]  ignored
        `,
        ignores: ``,
      },
      refused: {
        rows: `
          note.missed         -> missed
          note.refused        again
          note.unkept         -> unkept
          service.close       -> closed
          after refusedShown  -> quiet
        `,
        ignores: `service.reprint`,
      },
      missed: {
        rows: `
          note.missed        again
          note.unkept        -> unkept
          service.close      -> closed
          after missedShown  -> quiet
        `,
        ignores: `note.refused service.reprint`,
      },
      unkept: {
        rows: `
          note.unkept        again
          service.close      -> closed
          after unkeptShown  -> quiet
        `,
        ignores: `note.missed note.refused service.reprint`,
      },
    },
  },
};
