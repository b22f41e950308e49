// What can be done to a job: pure functions from one job to the next.

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("./types.js").FeatureTable} FeatureTable */
/** @typedef {import("./types.js").MeasurementTable} MeasurementTable */
/** @typedef {import("./types.js").ReadingTable} ReadingTable */
/** @typedef {import("./types.js").CheckTable} CheckTable */
/** @typedef {(job: Job) => Job} Change */

/**
 * The name, or the name with the first number that is free.
 * @param {string} name
 * @param {{name: string}[]} others
 */
export function freeName(name, others) {
  const taken = new Set(others.map((other) => other.name));
  if (!taken.has(name)) return name;
  for (let k = 2; ; k += 1) if (!taken.has(`${name} ${k}`)) return `${name} ${k}`;
}

/**
 * The name with the first number that is free, from 1.
 * @param {string} name
 * @param {{name: string}[]} others
 */
export function numbered(name, others) {
  const taken = new Set(others.map((other) => other.name));
  for (let k = 1; ; k += 1) if (!taken.has(`${name} ${k}`)) return `${name} ${k}`;
}

/** @param {FeatureTable} feature @returns {Change} */
export const addFeature = (feature) => (job) => ({ ...job, features: [...job.features, feature] });

/** @param {MeasurementTable} measurement @returns {Change} */
export const addMeasurement = (measurement) => (job) => ({
  ...job, measurements: [...job.measurements, measurement],
});

/**
 * @param {string} name
 * @param {Partial<FeatureTable>} facts
 * @returns {Change}
 */
export const changeFeature = (name, facts) => (job) => ({
  ...job, features: job.features.map((f) => (f.name === name ? { ...f, ...facts } : f)),
});

/**
 * @param {string[]} names of features
 * @param {string} plane that they lie on
 * @returns {Change}
 */
export const layOn = (names, plane) => (job) => ({
  ...job, features: job.features.map((f) => (names.includes(f.name) ? { ...f, plane, choice: null } : f)),
});

/**
 * @param {string} from
 * @param {string} to
 * @returns {Change}
 */
export const renameFeature = (from, to) => (job) => ({
  ...job,
  features: job.features.map((f) => (f.name === from ? { ...f, name: to } : f)),
  measurements: job.measurements.map((m) => ({ ...m, of: mapRoles(m.of, (n) => (n === from ? to : n)) })),
});

/**
 * Without the feature, and without the measurements that cannot be without it.
 * @param {string} name
 * @returns {Change}
 */
export const deleteFeature = (name) => (job) => {
  const gone = job.measurements.filter((m) => uses(m, name)).map((m) => m.name);
  return without({ ...job, features: job.features.filter((f) => f.name !== name) }, gone);
};

/** @param {string} name @returns {Change} */
export const deleteMeasurement = (name) => (job) => without(job, [name]);

/**
 * @param {string} from
 * @param {string} to
 * @returns {Change}
 */
export const renameMeasurement = (from, to) => (job) => ({
  ...job,
  measurements: job.measurements.map((m) => (m.name === from ? { ...m, name: to } : m)),
  checks: job.checks.map((c) => (c.measurement === from ? { ...c, measurement: to } : c)),
});

/**
 * @param {string} name
 * @param {Partial<MeasurementTable>} facts
 * @returns {Change}
 */
export const changeMeasurement = (name, facts) => judged(name, () => facts);

/**
 * A limit of one's own, judged by from now on.
 * @param {string} measurement
 * @param {import("./types.js").RuleTable} rule
 * @returns {Change}
 */
export const addOwnRule = (measurement, rule) => (job) => {
  const named = { ...job, rules: [...job.rules.filter((r) => r.name !== rule.name), rule] };
  return addRule(measurement, rule.name)(named);
};

/** @param {string} measurement @param {string} rule @returns {Change} */
export const addRule = (measurement, rule) => judged(measurement, (m) => ({
  rules: m.rules.includes(rule) ? m.rules : [...m.rules, rule],
}));

/**
 * A change to what is judged: a measurement, or a number read by hand.
 * @param {string} name
 * @param {(one: MeasurementTable|ReadingTable) => Partial<MeasurementTable & ReadingTable>} facts
 * @returns {Change}
 */
const judged = (name, facts) => (job) => ({
  ...job,
  measurements: job.measurements.map((m) => (m.name === name ? { ...m, ...facts(m) } : m)),
  readings: (job.readings || []).map((r) => (r.name === name ? { ...r, ...facts(r) } : r)),
});

/** @param {string} measurement @param {string} rule @returns {Change} */
export const removeRule = (measurement, rule) => (job) => {
  const less = judged(measurement, (m) => ({ rules: m.rules.filter((r) => r !== rule) }))(job);
  const used = [...less.measurements, ...(less.readings || [])].some((m) => m.rules.includes(rule));
  return { ...less, rules: used ? less.rules : less.rules.filter((r) => r.name !== rule) };
};

/**
 * A size that a limit hangs on.
 * @param {string} measurement
 * @param {string} size
 * @param {number|string} value
 * @returns {Change}
 */
export const setSize = (measurement, size, value) =>
  judged(measurement, (m) => ({ sizes: { ...m.sizes, [size]: value } }));

/**
 * A reading of something measured, in place of the one before it.
 * @param {CheckTable} check
 * @returns {Change}
 */
export const setCheck = (check) => (job) => ({ ...removeCheck(check)(job), checks: [...removeCheck(check)(job).checks, check] });

/** @param {CheckTable} check @returns {Change} */
export const removeCheck = (check) => (job) => ({
  ...job,
  checks: job.checks.filter((c) => c.measurement !== check.measurement || (c.quantity || "") !== (check.quantity || "")),
});

/**
 * A number read by hand, new or in place of the one called `was`.
 * @param {ReadingTable} reading
 * @param {string} [was]
 * @returns {Change}
 */
export const setReading = (reading, was = "") => (job) => ({
  ...job,
  readings: was ? (job.readings || []).map((r) => (r.name === was ? { ...r, ...reading } : r)) : [...(job.readings || []), reading],
});

/** @param {string} name @returns {Change} */
export const removeReading = (name) => (job) => {
  const rules = (job.readings || []).find((r) => r.name === name)?.rules || [];
  const less = rules.reduce((now, rule) => removeRule(name, rule)(now), job);
  return { ...less, readings: (less.readings || []).filter((r) => r.name !== name) };
};

/** @param {import("./types.js").ScaleTable} scale @returns {Change} */
export const addScale = (scale) => (job) => ({ ...job, scales: [...(job.scales || []), scale] });

/** @param {number} index @returns {Change} */
export const removeScale = (index) => (job) => ({ ...job, scales: (job.scales || []).filter((_, k) => k !== index) });

/** @param {import("./types.js").PrintTable} print @returns {Change} */
export const setPrint = (print) => (job) => ({
  ...job, prints: [...job.prints.filter((p) => p.sheet !== print.sheet), print],
});

/** @param {string} sheet @returns {Change} */
export const removePrint = (sheet) => (job) => ({
  ...job, prints: job.prints.filter((p) => p.sheet !== sheet),
});

/**
 * A height, new or in place of the one called `was`; what lay on it lies on it still.
 * @param {import("./types.js").PlaneTable} plane
 * @param {string} [was]
 * @returns {Change}
 */
export const setPlane = (plane, was = "") => (job) => ({
  ...job,
  planes: was ? job.planes.map((p) => (p.name === was ? { ...p, ...plane } : p)) : [...job.planes, plane],
  features: was ? job.features.map((f) => (f.plane === was ? { ...f, plane: plane.name } : f)) : job.features,
});

/** @param {string} name @returns {Change} */
export const removePlane = (name) => (job) => ({
  ...job, planes: job.planes.filter((p) => p.name !== name),
});

/**
 * @param {string} from
 * @param {string} to
 * @returns {Change}
 */
export const renamePhoto = (from, to) => (job) => {
  const renamed = (/** @type {string} */ name) => (name === from ? to : name);
  return {
    ...job,
    photos: job.photos.map((p) => ({ ...p, name: renamed(p.name) })),
    features: job.features.map((f) => ({ ...f, photo: renamed(f.photo) })),
    scales: (job.scales || []).map((s) => ({ ...s, photo: renamed(s.photo) })),
  };
};

/**
 * Without the photo and everything that was pointed at in it.
 * @param {string} name
 * @returns {Change}
 */
export const removePhoto = (name) => (job) => {
  const lost = job.features.filter((f) => f.photo === name).map((f) => f.name);
  const less = lost.reduce((now, feature) => deleteFeature(feature)(now), job);
  return {
    ...less,
    photos: less.photos.filter((p) => p.name !== name),
    scales: (less.scales || []).filter((s) => s.photo !== name),
  };
};

/** @param {Partial<Job>} facts @returns {Change} */
export const changeFacts = (facts) => (job) => ({ ...job, ...facts });

/**
 * @param {MeasurementTable} measurement
 * @param {string} feature
 */
export const uses = (measurement, feature) => Object.values(measurement.of).flat().includes(feature);

/**
 * @param {Job} job
 * @param {string[]} names of measurements
 * @returns {Job}
 */
function without(job, names) {
  return {
    ...job,
    measurements: job.measurements.filter((m) => !names.includes(m.name)),
    checks: job.checks.filter((c) => !names.includes(c.measurement)),
  };
}

/**
 * @param {Object<string, string[]>} roles
 * @param {(name: string) => string} rename
 */
const mapRoles = (roles, rename) =>
  Object.fromEntries(Object.entries(roles).map(([role, names]) => [role, names.map(rename)]));
