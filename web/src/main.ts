import './theme.css';
import { mount } from 'svelte';
import App from './App.svelte';

const target = document.getElementById('workbench');
if (target) mount(App, { target });
