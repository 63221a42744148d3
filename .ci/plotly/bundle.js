// plotly.js with what the charts of monitor.plots are made of, after its own src/core.js: lines, bars, shapes, words,
// a legend and what a touch shows. Sliders, menus, images and the other traces stay away.
'use strict';
const { register } = require('plotly.js/src/registry');
const api = require('plotly.js/src/plot_api');
const Plots = require('plotly.js/src/plots/plots');
const Fx = require('plotly.js/src/components/fx');

require('plotly.js/build/plotcss');
exports.version = require('plotly.js/src/version').version;
exports.register = register;
for (const [name, fn] of Object.entries(api)) {
    if (!name.startsWith('_')) exports[name] = fn;
    register({ moduleType: 'apiMethod', name, fn });
}
register(require('plotly.js/src/traces/scatter'));
register(require('plotly.js/src/traces/bar'));
// In the order of src/core.js, which the legend and what is shown at a touch rely on.
register([
    require('plotly.js/src/components/annotations'),
    require('plotly.js/src/components/shapes'),
    require('plotly.js/src/components/errorbars'),
    require('plotly.js/src/components/colorscale'),
    require('plotly.js/src/components/legend'),
    Fx,
    require('plotly.js/src/components/modebar'),
]);
register([require('plotly.js/src/locale-en'), require('plotly.js/src/locale-en-us')]);
exports.Icons = require('plotly.js/src/fonts/ploticon');
exports.Plots = { resize: Plots.resize, graphJson: Plots.graphJson };
exports.Fx = { hover: Fx.hover, unhover: Fx.unhover, loneHover: Fx.loneHover, loneUnhover: Fx.loneUnhover };
exports.Snapshot = require('plotly.js/src/snapshot');
