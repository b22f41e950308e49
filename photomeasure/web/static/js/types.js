// What the modules hand to each other. Only types: nothing here runs.

/**
 * @typedef {[number, number]} Pair
 *
 * @typedef {object} PhotoTable
 * @property {string} name
 * @property {string} file
 * @property {string|null} sha256
 * @property {string|null} camera
 *
 * @typedef {{sheet: string, bar_x: number|string, bar_y: number|string, plus_minus: number|string}} PrintTable
 * @typedef {{photo: string, kind: string, clicks: Pair[], width?: number|string|null, height?: number|string|null, length?: number|string|null, plus_minus?: number|string|null, ends?: string}} ScaleTable
 * @typedef {{name: string, height: number|string, plus_minus: number|string, depth?: number|string|null, on?: string|null}} PlaneTable
 *
 * @typedef {object} FeatureTable
 * @property {string} name
 * @property {string} kind
 * @property {string} photo
 * @property {string} plane
 * @property {Pair[]} clicks
 * @property {number|null} [choice]
 *
 * @typedef {object} MeasurementTable
 * @property {string} name
 * @property {string} kind
 * @property {Object<string, string[]>} of
 * @property {string[]} rules
 * @property {string} note
 * @property {string[]} [between] what meets here
 * @property {Object<string, number|string>} [sizes]
 *
 * @typedef {object} ReadingTable
 * @property {string} name
 * @property {string} quantity
 * @property {string} unit
 * @property {number|string} value
 * @property {number|string} plus_minus
 * @property {string} instrument
 * @property {string[]} rules
 * @property {string[]} [between]
 * @property {Object<string, number|string>} [sizes]
 *
 * @typedef {object} RuleTable
 * @property {string} name
 * @property {string} quantity
 * @property {string} unit
 * @property {number|null} [at_least]
 * @property {number|null} [at_most]
 * @property {string} why
 * @property {string} source
 * @property {string} status
 *
 * @typedef {{measurement: string, quantity?: string, value: number|string, plus_minus: number|string, instrument?: string}} CheckTable
 *
 * @typedef {object} Job
 * @property {string} title
 * @property {string} unit
 * @property {string} position
 * @property {string[]} hazards
 * @property {string} note
 * @property {PhotoTable[]} photos
 * @property {PrintTable[]} prints
 * @property {ScaleTable[]} [scales] things of known size
 * @property {PlaneTable[]} planes
 * @property {FeatureTable[]} features
 * @property {MeasurementTable[]} measurements
 * @property {RuleTable[]} rules
 * @property {CheckTable[]} checks
 * @property {ReadingTable[]} [readings] read by hand
 *
 * @typedef {object} Stored
 * @property {string} revision
 * @property {string} folder
 * @property {Job|null} job
 * @property {string} problem
 * @property {number} undo
 * @property {number} redo
 *
 * @typedef {object} PartTable What a person said of a part; what the page does not show it keeps.
 * @property {string} name
 * @property {string} photo the file
 * @property {number|string} thickness
 * @property {number|string} plus_minus
 * @property {number|string|null} [face]
 * @property {string|null} [on]
 * @property {boolean} [opening]
 * @property {string|null} [camera]
 * @property {number|string} [tolerance]
 * @property {Pair[]} [inside]
 * @property {Pair[]} [outside]
 * @property {Pair[][]} [strokes]
 * @property {string[]} [shaped] openings that are no covered circles
 * @property {string[]} [take]
 * @property {string[]} [confirmed]
 * @property {number|string} [offset]
 * @property {number|string} [round_corners]
 * @property {boolean} [mirror]
 * @property {string[]} [hazards]
 * @property {PrintTable[]} [prints]
 * @property {{dpi: number}|null} [scan]
 * @property {{name: string, diameter?: number|string|null, thread?: string, fit?: string}[]} [holes]
 * @property {LevelTable[]} [levels]
 * @property {BendTable[]} [bends]
 * @property {Object<string, any>} [title]
 *
 * @typedef {{name: string, around: string, offset: number|string, height: number|string}} LevelTable
 * @typedef {{start: Pair, end: Pair, angle: number, up: boolean, inside_radius: number|string}} BendTable
 *
 * @typedef {{part: string, revision: string, table: PartTable|null, problem: string, undo: number, redo: number}} PartStored
 * @typedef {{name: string, chain_px: Pair[]}} Ring
 * @typedef {{name: string, words: string, off_mm: number, plus_minus_mm: number, within: boolean}} PartOffer
 * @typedef {{name: string, at_mm: Pair, callout: string, measured: string, diameter_mm: number|null, plus_minus_mm: number}} HoleAnswer
 *
 * @typedef {object} OutlineAnswer
 * @property {string} part
 * @property {string[]} found
 * @property {Pair[][]} seen stretches of its boundaries
 * @property {Ring[]} cut
 * @property {Ring[]} bends open lines
 * @property {Pair[]} frame_px on the x axis, the origin, on the y axis
 * @property {HoleAnswer[]} holes
 * @property {string[]} openings
 * @property {PartOffer[]} offers
 * @property {{words: string, grave: boolean}[]} shop
 * @property {string[]} remarks
 * @property {string[]} cautions
 *
 * @typedef {object} View
 * @property {string} sheet
 * @property {number[]} camera f cx cy k1 k2 p1 p2 k3
 * @property {number[]} pose rx ry rz tx ty tz
 * @property {number} tilt_deg
 * @property {number} camera_height_mm
 * @property {number} residual_px
 * @property {[number, number, number, number]} box_mm
 *
 * @typedef {object} PhotoAnswer
 * @property {string} name
 * @property {string} sha256
 * @property {Pair|null} size_px
 * @property {View[]} views
 * @property {Object<string, string>} planes plane → sheet
 * @property {string} problem
 *
 * @typedef {{number: number, words: string, offset_mm: number, chains_mm: Pair[][]}} Rival
 *
 * @typedef {object} Located
 * @property {string} name
 * @property {string} kind
 * @property {string} photo
 * @property {string} plane
 * @property {string} sheet
 * @property {number} height_mm
 * @property {Pair[][]} chains_mm
 * @property {Pair} anchor_mm
 * @property {Pair[]} points_px
 * @property {number} spread_px
 * @property {number} spread_mm
 * @property {number} points
 * @property {number} chosen
 * @property {boolean} ask
 * @property {Rival[]} rivals
 * @property {string[]} warnings
 *
 * @typedef {{name: string, located: Located|null, problem: string}} FeatureAnswer
 * @typedef {{source: string, u: string, share: number}} Source
 *
 * @typedef {object} NumberAnswer
 * @property {string} name
 * @property {string} words
 * @property {string} unit
 * @property {boolean} primary
 * @property {number} value
 * @property {number} expanded
 * @property {string} figure
 * @property {string} second
 * @property {string} interval
 * @property {Source[]} budget
 *
 * @typedef {object} Judged
 * @property {string} rule
 * @property {string} quantity
 * @property {string} limit
 * @property {string} verdict
 * @property {string} words
 * @property {boolean} can_fail
 * @property {string} reason
 * @property {string} settle
 * @property {string} worked_out
 * @property {string} source
 * @property {string} standing
 * @property {string} condition
 * @property {string} why
 *
 * @typedef {{rule: string, limit: string, advice: string, words: string, needs: string[], source: string, standing: string, condition: string, why: string}} Offered
 *
 * @typedef {{chain_mm: Pair[], role: string, arrows: boolean}} Stroke
 * @typedef {{photo: string, sheet: string, height_mm: number, strokes: Stroke[], labels: {at_mm: Pair, quantity: string}[]}} Drawing
 *
 * @typedef {{short: string, words: string, mend: "bars"|"height", features: string[]}} Doubt
 *
 * @typedef {object} MeasurementAnswer
 * @property {string} name
 * @property {string} kind
 * @property {string} by_hand
 * @property {string} problem
 * @property {NumberAnswer[]} numbers
 * @property {Judged[]} judged
 * @property {Offered[]} offers
 * @property {{quantity: string, words: string, agrees: boolean}[]} readings
 * @property {string[]} remarks
 * @property {Doubt[]} doubts what weakens it and can be mended at once
 * @property {Drawing|null} drawing
 *
 * @typedef {object} Results
 * @property {string} revision
 * @property {PhotoAnswer[]} photos
 * @property {FeatureAnswer[]} features
 * @property {MeasurementAnswer[]} measurements
 * @property {string} overall
 * @property {string} problem
 * @property {string[]} warnings
 * @property {string[]} cautions
 * @property {string[]} not_checked
 *
 * @typedef {{role: string, kinds: string[], prompt: string, minimum: number, maximum: number|null}} Need
 * @typedef {{name: string, unit: string, words: string, primary: boolean}} Output
 *
 * @typedef {object} Kind
 * @property {string} name
 * @property {string} words
 * @property {string} summary
 * @property {boolean} one_plane
 * @property {Need[]} needs
 * @property {Output[]} outputs
 * @property {string} picture
 *
 * @typedef {{name: string, touches: number, open: boolean, prompt: string}} FeatureKind
 *
 * @typedef {object} RuleAnswer
 * @property {string} name
 * @property {string[]} quantities
 * @property {string} limit
 * @property {string} unit
 * @property {string} condition
 * @property {string} why
 * @property {string} source
 * @property {string} standing
 * @property {boolean} can_fail
 *
 * @typedef {{name: string, title: string, paper: string, copies: string[], use: "sheet"|"cards"|"board"}} SheetAnswer
 *
 * @typedef {object} Choices
 * @property {string} version
 * @property {Kind[]} kinds
 * @property {FeatureKind[]} features
 * @property {RuleAnswer[]} rules
 * @property {SheetAnswer[]} sheets
 * @property {{name: string, summary: string, filename: string}[]} formats
 * @property {{name: string, words: string, needs: string[], touches: number}[]} scales things of known size
 * @property {{name: string, summary: string, filename: string}[]} part_formats
 * @property {{name: string, diameter_mm: number}[]} clearances standard holes that screws pass through
 * @property {string[]} hazards
 * @property {string[]} things that can meet
 * @property {boolean} sample
 * @property {boolean} lan
 *
 * @typedef {{photo: string, fitness: string, rank: number, findings: {words: string, fitness: string}[], improvements: string[], scale: string, seconds: number}} Verdict
 *
 * @typedef {object} Draft What is being pointed at.
 * @property {string} kind the kind of measurement; "" when only a feature is added to or moved
 * @property {Object<string, string[]>} roles role → features found so far
 * @property {number} need which need is asked for
 * @property {string} feature the feature kind that is touched now
 * @property {string} plane
 * @property {Pair[]} clicks
 * @property {Located|null} located
 * @property {number|null} choice
 * @property {string} problem
 *
 * @typedef {object} Hint Places that are being pointed out.
 * @property {"inside"|"outside"|"stroke"|"scale"|"bend"} kind
 * @property {Pair[]} touches px of the photo
 * @property {number} count how many are wanted; 0 for as many as one likes
 * @property {(touches: Pair[]) => unknown} done takes all of them
 * @property {ScaleTable} [scale]
 *
 * @typedef {object} State
 * @property {Stored} stored
 * @property {Choices} choices
 * @property {Results|null} results
 * @property {Object<string, Verdict>} verdicts photo → what it is good for
 * @property {string} step "print", "photograph", "point" or "report"
 * @property {string} photo the photo shown
 * @property {boolean} flat seen at right angles rather than as taken
 * @property {boolean} grid
 * @property {string} plane where new features lie
 * @property {{type: string, name: string}|null} chosen the measurement or feature looked at
 * @property {Draft|null} draft
 * @property {{name: string, clicks: Pair[], located: Located|null, problem: string}|null} moving
 * @property {"saved"|"saving"|"not"} saved
 * @property {string} unsaved why not
 * @property {boolean} working numbers are being worked out
 * @property {string} unworked why they could not be
 * @property {string[]} adding names of photos on their way
 * @property {boolean} tour
 * @property {PartStored[]} parts
 * @property {string} part the part whose outline is looked at; "" for none
 * @property {{part: string, answer: OutlineAnswer|null, problem: string, words: string}|null} outline
 * @property {Hint|null} hint what is being pointed out
 */

export {};
